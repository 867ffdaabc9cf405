"""Price against a factor, as a buyer states it: steps, slope, cliff, premium, window, table.

A schedule says how far the price moves; what that is in money for a lot is computed elsewhere. Discounts and
premiums are positive, and the name says which way they go.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from itertools import pairwise
from typing import Final, Literal

from lodestarch.common.provenance import Provenance
from lodestarch.trade.money_unit import MoneyUnit

__all__ = [
    "Action",
    "Band",
    "Cliff",
    "Part",
    "Premium",
    "Schedule",
    "ScheduleTrouble",
    "Side",
    "Slope",
    "Steps",
    "Table",
    "Window",
    "discount_starts",
    "schedule_troubles",
]


class Side(StrEnum):
    """Which way a part runs from its start."""

    BELOW = "below"
    ABOVE = "above"


class Action(StrEnum):
    """What happens beyond a cliff or outside a window."""

    REJECT = "reject"
    DISCOUNT = "discount"
    PRICE = "price"


@dataclass(frozen=True, slots=True)
class Steps:
    """A discount for every step away from a start.

    Parameters
    ----------
    start : float
        Where it begins. [factor's unit]
    side : Side
    step : float
        Width. [factor's unit]  Above 0.
    discount : float
        For each step. [schedule's unit]
    end : float or None
        Where the part ends.
    most : float or None
        Largest discount. [schedule's unit]
    started : bool
        A step counts once it is started; otherwise once it is full.
    """

    start: float
    side: Side
    step: float
    discount: float
    end: float | None = None
    most: float | None = None
    started: bool = True


@dataclass(frozen=True, slots=True)
class Slope:
    """A discount in proportion to the distance from a start: ``discount`` for every ``per``."""

    start: float
    side: Side
    discount: float
    per: float = 1.0
    end: float | None = None
    most: float | None = None


@dataclass(frozen=True, slots=True)
class Cliff:
    """Turned away, a flat discount, or another price beyond a start."""

    start: float
    side: Side
    action: Action
    discount: float | None = None
    price: float | None = None


@dataclass(frozen=True, slots=True)
class Premium:
    """More beyond a start: flat, by ``step``, or in proportion for every ``per``."""

    start: float
    side: Side
    premium: float
    step: float | None = None
    per: float | None = None
    end: float | None = None
    most: float | None = None
    started: bool = True


@dataclass(frozen=True, slots=True)
class Window:
    """Bought between two values; outside them as beyond a cliff."""

    at_least: float
    at_most: float
    action: Action
    discount: float | None = None
    price: float | None = None


@dataclass(frozen=True, slots=True)
class Band:
    """One line of a table; an end that is not stated is open. ``reject`` where neither amount is stated."""

    low: float | None
    high: float | None
    discount: float | None = None
    premium: float | None = None

    @property
    def amount(self) -> float:
        """How far the band is from the plain price, whichever way; infinite where it rejects."""
        return next((a for a in (self.discount, self.premium) if a is not None), math.inf)


@dataclass(frozen=True, slots=True)
class Table:
    """Bands in one order, up or down."""

    bands: tuple[Band, ...]


Part = Steps | Slope | Cliff | Premium | Window | Table


@dataclass(frozen=True, slots=True)
class Schedule:
    """How the price moves with one factor.

    Parameters
    ----------
    id, name : str
    factor : str
        Key of ``factors.FACTORS``.
    unit : MoneyUnit or None
        Of every discount and premium; ``None``: shares of the price.
    on_boundary : str or None
        On which side a value exactly on a boundary falls; ``None``: not stated.
    stated_to : float
        Step in which ends of bands are stated; ends that differ by no more touch. [factor's unit]
    parts : tuple
    valid_from, valid_to : date or None
        Both ends belong to it; ``None`` is open.
    provenance : Provenance
    """

    id: str
    name: str
    factor: str
    unit: MoneyUnit | None
    on_boundary: Literal["better", "worse"] | None
    stated_to: float
    parts: tuple[Part, ...]
    valid_from: date | None
    valid_to: date | None
    provenance: Provenance


@dataclass(frozen=True, slots=True)
class ScheduleTrouble:
    """What does not fit in a schedule.

    Parameters
    ----------
    kind : str
        ``gap``, ``overlap``; ``order``: its ends are the wrong way round; ``sequence``: a band that does not
        stand in one order with the others; ``open``: nothing is stated beyond.
    part, other : str
        Which parts or bands, counted from 1 (``part 2``, ``part 2 band 3``); ``other`` empty for one alone.
    low, high : float
        Between which values, infinite where it is open. [factor's unit]  For ``open``, the end at which the
        schedule stops, twice; for ``sequence``, where the two bands start.
    """

    kind: Literal["gap", "overlap", "order", "sequence", "open"]
    part: str
    other: str
    low: float
    high: float


def discount_starts(part: Part) -> tuple[tuple[Side, float], ...]:
    """Return where a part leaves the plain price for a worse one, and on which side; empty for a premium."""
    if isinstance(part, Premium):
        return ()
    if isinstance(part, Window):
        return (Side.BELOW, part.at_least), (Side.ABOVE, part.at_most)
    if not isinstance(part, Table):
        return ((part.side, part.start),)
    worse = [b for b in part.bands if b.premium is None and b.amount > 0]
    if not worse:
        return ()
    lowest = min(worse, key=lambda b: -math.inf if b.low is None else b.low)
    highest = max(worse, key=lambda b: math.inf if b.high is None else b.high)
    if highest.amount < lowest.amount or lowest.low is None:
        return () if highest.high is None else ((Side.BELOW, highest.high),)
    return ((Side.ABOVE, lowest.low),)


_TOLERANCE: Final = 1e-9


@dataclass(frozen=True, slots=True)
class _Span:
    """What one part or band covers, and on which sides the plain price may lie beside it."""

    name: str
    low: float
    high: float
    free_below: bool
    free_above: bool


def schedule_troubles(schedule: Schedule) -> tuple[ScheduleTrouble, ...]:
    """Return gaps, overlaps, wrong order and open ends of a schedule, by part and band.

    Notes
    -----
    Between a part that runs down and one that runs up lies the plain price: no gap. Beside a table the plain
    price lies at the end where its amounts are smaller.

    Examples
    --------
    >>> steps = Steps(300, Side.BELOW, step=25, discount=25, end=260)
    >>> cliff = Cliff(250, Side.BELOW, Action.REJECT)
    >>> fn = Schedule("x", "", "fn_s", None, "better", 0, (steps, cliff), None, None, Provenance.INVENTED)
    >>> schedule_troubles(fn)
    (ScheduleTrouble(kind='gap', part='part 2', other='part 1', low=250, high=260),)
    """
    order = [t for i, part in enumerate(schedule.parts, 1) for t in _order(part, f"part {i}")]
    if order:
        return tuple(order)
    spans = [s for i, part in enumerate(schedule.parts, 1) for s in _spans(part, f"part {i}")]
    spans.sort(key=lambda s: (s.low, s.high))
    troubles: list[ScheduleTrouble] = []
    for a, b in pairwise(spans):
        if a.high - b.low > _TOLERANCE:
            troubles.append(ScheduleTrouble("overlap", a.name, b.name, b.low, min(a.high, b.high)))
        elif b.low - a.high > schedule.stated_to + _TOLERANCE and not (a.free_above and b.free_below):
            troubles.append(ScheduleTrouble("gap", a.name, b.name, a.high, b.low))
    if spans and not spans[0].free_below and math.isfinite(spans[0].low):
        troubles.append(ScheduleTrouble("open", spans[0].name, "", spans[0].low, spans[0].low))
    top = max(spans, key=lambda s: s.high, default=None)
    if top is not None and not top.free_above and math.isfinite(top.high):
        troubles.append(ScheduleTrouble("open", top.name, "", top.high, top.high))
    return tuple(troubles)


def _spans(part: Part, name: str) -> Iterator[_Span]:
    if isinstance(part, Table):
        yield from _table_spans(part, name)
    elif isinstance(part, Window):
        yield _Span(name, -math.inf, part.at_least, free_below=False, free_above=True)
        yield _Span(name, part.at_most, math.inf, free_below=True, free_above=False)
    else:
        end = None if isinstance(part, Cliff) else part.end
        if part.side is Side.BELOW:
            yield _Span(
                name, -math.inf if end is None else end, part.start, free_below=False, free_above=True
            )
        else:
            yield _Span(name, part.start, math.inf if end is None else end, free_below=True, free_above=False)


def _table_spans(table: Table, name: str) -> Iterator[_Span]:
    lows = [-math.inf if b.low is None else b.low for b in table.bands]
    highs = [math.inf if b.high is None else b.high for b in table.bands]
    lowest, highest = (
        min(range(len(lows)), key=lows.__getitem__),
        max(range(len(highs)), key=highs.__getitem__),
    )
    below, above = table.bands[lowest].amount, table.bands[highest].amount
    for i in range(len(table.bands)):
        yield _Span(
            f"{name} band {i + 1}",
            lows[i],
            highs[i],
            free_below=i == lowest and below <= above,
            free_above=i == highest and above <= below,
        )


def _order(part: Part, name: str) -> Iterator[ScheduleTrouble]:
    """Ends that are the wrong way round, and bands that do not stand in one order."""
    if isinstance(part, Window):
        if part.at_least >= part.at_most:
            yield ScheduleTrouble("order", name, "", part.at_least, part.at_most)
    elif isinstance(part, Table):
        yield from _band_order(part, name)
    elif not isinstance(part, Cliff) and part.end is not None:
        beyond = part.end >= part.start if part.side is Side.BELOW else part.end <= part.start
        if beyond:
            yield ScheduleTrouble("order", name, "", part.start, part.end)


def _band_order(table: Table, name: str) -> Iterator[ScheduleTrouble]:
    lows = [-math.inf if b.low is None else b.low for b in table.bands]
    highs = [math.inf if b.high is None else b.high for b in table.bands]
    for i, (low, high) in enumerate(zip(lows, highs, strict=True), 1):
        if low >= high:
            yield ScheduleTrouble("order", f"{name} band {i}", "", low, high)
    rising = len(lows) > 1 and lows[-1] > lows[0]
    for i, (a, b) in enumerate(pairwise(lows), 1):
        if a != b and (b > a) != rising:
            yield ScheduleTrouble("sequence", f"{name} band {i + 1}", f"{name} band {i}", b, a)
