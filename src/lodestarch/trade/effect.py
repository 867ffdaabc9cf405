"""What a schedule does to a price, for every value of its factor: straight pieces with jumps.

On every piece the price becomes ``(keep + keep_slope x) price + add + add_slope x``, or there is none: the
grain is turned away, or nothing is stated.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from enum import IntEnum
from itertools import pairwise
from typing import Final

from lodestarch.common.errors import NoAnswer
from lodestarch.trade.factors import FACTORS
from lodestarch.trade.schedule import (  # fmt: skip
    Action,
    Band,
    Cliff,
    Part,
    Premium,
    Schedule,
    Side,
    Slope,
    Steps,
    Table,
    Window,
)
from lodestarch.trade.schedule_check import Span, spans_of

__all__ = ["Effect", "Piece", "Standing", "effect_of"]

_MOST_STEPS: Final = 2000
"""Steps of one part that are told apart. A choice of ours: a second by second table of all seconds fits."""

_NEAR: Final = 1e-9

ToMoney = Callable[[float], float]


class Standing(IntEnum):
    """Whether there is a price."""

    PAID = 0
    TURNED_AWAY = 1
    NOT_STATED = 2


@dataclass(frozen=True, slots=True)
class Piece:
    """What happens to a price between two values.

    Parameters
    ----------
    low, high : float
        Ends, infinite where open. [factor's unit]
    keep, keep_slope : float
        Share of the price that stays. [1], [1 per factor's unit]
    add, add_slope : float
        What is added. [money/t], [money/t per factor's unit]
    standing : Standing
    halves_up : bool
        The lower end lies midway between two values as they are stated, and belongs to the piece whatever the
        rule for boundaries.
    """

    low: float
    high: float
    keep: float = 1.0
    keep_slope: float = 0.0
    add: float = 0.0
    add_slope: float = 0.0
    standing: Standing = Standing.PAID
    halves_up: bool = False

    def of(self, price: float, x: float) -> float:
        """Price that becomes of ``price`` at ``x``; minus infinity where there is none. [money/t]"""
        if self.standing is not Standing.PAID:
            return -math.inf
        return (self.keep + self.keep_slope * x) * price + self.add + self.add_slope * x


@dataclass(frozen=True, slots=True)
class Effect:
    """Pieces from minus to plus infinity, each ending where the next begins.

    Parameters
    ----------
    factor : str
    pieces : tuple of Piece
    worse_side : bool
        A value exactly on a boundary falls on the side with the worse price.
    """

    factor: str
    pieces: tuple[Piece, ...]
    worse_side: bool

    def upper_owns(self, i: int, below: float, above: float) -> bool:
        """Return whether the boundary over piece ``i`` belongs to the piece above, from both prices there."""
        if self.pieces[i + 1].halves_up or below == above:
            return True
        return (above > below) is not self.worse_side

    def at(self, x: float) -> tuple[Piece, ...]:
        """Return the piece in which a value lies; two where it lies exactly on their boundary."""
        for i, piece in enumerate(self.pieces):
            if x < piece.high - _NEAR:
                return (piece,)
            if x <= piece.high + _NEAR:
                after = self.pieces[i + 1]
                return (after,) if after.halves_up else (piece, after)
        return (self.pieces[-1],)

    def of(self, price: float, x: float) -> tuple[float, Standing]:
        """Price that becomes of a price at a value, with its standing. [money/t]"""
        found = [(p.of(price, x), p.standing) for p in self.at(x)]
        return (min if self.worse_side else max)(found, key=lambda f: f[0])


def effect_of(schedule: Schedule, to_money: ToMoney, to_price: ToMoney) -> Effect:
    """Return what a schedule does.

    Parameters
    ----------
    schedule : Schedule
        Without gaps and overlaps; ``schedule_troubles`` names them.
    to_money : callable
        From an amount in the schedule's unit to money per tonne; not used for shares of the price.
    to_price : callable
        From an amount in the offer's price unit to money per tonne.

    Raises
    ------
    NoAnswer
        ``schedule-too-fine``: more steps than are told apart.

    Examples
    --------
    >>> from lodestarch.common.provenance import Provenance
    >>> from lodestarch.trade.money_unit import MoneyUnit
    >>> steps = Steps(300, Side.BELOW, step=25, discount=9, end=250)
    >>> cliff = Cliff(250, Side.BELOW, Action.REJECT)
    >>> unit = MoneyUnit("USD", False, "t")
    >>> fn = Schedule("x", "", "fn_s", unit, "better", 0, (steps, cliff), None, None, Provenance.INVENTED)
    >>> whole = effect_of(fn, lambda a: a, lambda a: a)
    >>> [whole.of(200.0, x)[0] for x in (300.0, 299.0, 275.0, 274.9, 249.0)]
    [200.0, 191.0, 191.0, 182.0, -inf]
    """
    spans = _touching(schedule)
    if not spans:
        return Effect(schedule.factor, (Piece(-math.inf, math.inf),), schedule.on_boundary == "worse")
    pieces: list[Piece] = []
    for i, (span, halves_up) in enumerate(spans):
        before = spans[i - 1][0] if i else None
        pieces += _between(before, span)
        own = [p for p in _pieces_of(schedule, span, to_money, to_price) if p.high > p.low]
        if own and halves_up:
            own[0] = _with_halves_up(own[0])
        pieces += own
    last, ends_midway = spans[-1][0], _midway_end(schedule, spans[-1][0])
    if last.high < math.inf:
        standing = Standing.PAID if last.free_above else Standing.NOT_STATED
        pieces.append(Piece(last.high, math.inf, standing=standing, halves_up=ends_midway))
    return Effect(schedule.factor, tuple(_joined(pieces)), schedule.on_boundary == "worse")


def _with_halves_up(p: Piece) -> Piece:
    return Piece(p.low, p.high, p.keep, p.keep_slope, p.add, p.add_slope, p.standing, halves_up=True)


def _touching(schedule: Schedule) -> list[tuple[Span, bool]]:
    """Spans whose stated ends (274 and 275) meet midway; with each, whether its lower end is such a place."""
    spans = spans_of(schedule)
    low = [s.low for s in spans]
    high = [s.high for s in spans]
    midway = [False] * len(spans)
    for i, (a, b) in enumerate(pairwise(spans)):
        apart = b.low - a.high
        if _NEAR < apart <= schedule.stated_to + _NEAR and not (a.free_above and b.free_below):
            high[i] = low[i + 1] = (a.high + b.low) / 2
            midway[i + 1] = True
    for i, span in enumerate(spans):
        if _midway_end(schedule, span):
            high[i] = span.high + schedule.stated_to / 2
        if _midway_start(schedule, span):
            low[i] = span.low - schedule.stated_to / 2
            midway[i] = True
    return [
        (Span(s.name, s.part, s.band, low[i], high[i], s.free_below, s.free_above), midway[i])
        for i, s in enumerate(spans)
    ]


def _in_whole_values(schedule: Schedule, span: Span) -> bool:
    """A band of a table whose bands are stated in whole values: to 274, from 275."""
    part = schedule.parts[span.part]
    if span.band is None or not isinstance(part, Table) or schedule.stated_to == 0:
        return False
    ends = sorted((b.low, b.high) for b in part.bands if b.low is not None and b.high is not None)
    return any(b[0] - a[1] > _NEAR for a, b in pairwise(ends))


def _outermost(schedule: Schedule, span: Span, *, upper: bool) -> bool:
    others = [s for s in spans_of(schedule) if (s.part, s.band) != (span.part, span.band)]
    if upper:
        return all(s.high <= span.low + schedule.stated_to or s.low > span.high for s in others)
    return all(s.low >= span.high - schedule.stated_to or s.high < span.low for s in others)


def _midway_end(schedule: Schedule, span: Span) -> bool:
    whole = _in_whole_values(schedule, span) and math.isfinite(span.high)
    return whole and _outermost(schedule, span, upper=True)


def _midway_start(schedule: Schedule, span: Span) -> bool:
    whole = _in_whole_values(schedule, span) and math.isfinite(span.low)
    return whole and _outermost(schedule, span, upper=False)


def _between(a: Span | None, b: Span) -> Iterator[Piece]:
    """The plain price, or nothing stated, below a span and above the one before."""
    low = -math.inf if a is None else a.high
    if b.low > low:
        plain = b.free_below and (a is None or a.free_above)
        yield Piece(low, b.low, standing=Standing.PAID if plain else Standing.NOT_STATED)


def _joined(pieces: list[Piece]) -> Iterator[Piece]:
    """Let every piece begin where the one before ends, to the last bit."""
    at = -math.inf
    for p in pieces:
        yield Piece(at, p.high, p.keep, p.keep_slope, p.add, p.add_slope, p.standing, p.halves_up)
        at = p.high


def _pieces_of(schedule: Schedule, span: Span, to_money: ToMoney, to_price: ToMoney) -> Iterator[Piece]:
    part = schedule.parts[span.part]

    def by(amount: float, slope: float, low: float, high: float) -> Piece:
        """A change of price, as money or as a share."""
        if schedule.unit is None:
            return Piece(low, high, keep=1.0 + amount, keep_slope=slope)
        return Piece(low, high, add=to_money(amount), add_slope=to_money(slope))

    def ended(what: Cliff | Window) -> Piece:
        if what.action is Action.DISCOUNT and what.discount is not None:
            return by(-what.discount, 0.0, span.low, span.high)
        if what.action is Action.PRICE and what.price is not None:
            return Piece(span.low, span.high, keep=0.0, add=to_price(what.price))
        return Piece(span.low, span.high, standing=Standing.TURNED_AWAY)

    if isinstance(part, (Cliff, Window)):
        yield ended(part)
    elif isinstance(part, Table):
        yield _of_band(part.bands[span.band or 0], span, by)
    else:
        for low, high, amount, slope in _moving(part, span, schedule.factor):
            yield by(amount, slope, max(low, span.low), min(high, span.high))


def _of_band(band: Band, span: Span, by: Callable[[float, float, float, float], Piece]) -> Piece:
    if band.premium is not None:
        return by(band.premium, 0.0, span.low, span.high)
    if band.discount is not None:
        return by(-band.discount, 0.0, span.low, span.high)
    return Piece(span.low, span.high, standing=Standing.TURNED_AWAY)


Run = tuple[float, float, float, float]
"""Low end, high end, amount at 0, slope."""


def _moving(part: Part, span: Span, factor: str) -> list[Run]:
    """Pieces of a part that grows with the distance from its start, from low to high."""
    assert isinstance(part, (Steps, Slope, Premium))  # noqa: S101 - the other shapes have been taken
    sign = 1.0 if isinstance(part, Premium) else -1.0
    amount = part.premium if isinstance(part, Premium) else part.discount
    most = math.inf if part.most is None else part.most
    step = part.step if isinstance(part, (Steps, Premium)) else None
    per = part.per if isinstance(part, (Slope, Premium)) else None
    reach = _reach(part, span, factor)
    if step is not None:
        runs = _stepped(amount, step, most, reach, started=part.started)  # type: ignore[union-attr]  # shapes with steps
    elif per is not None:
        runs = _sloped(amount / per, most)
    else:
        runs = [(0.0, math.inf, amount, 0.0)]
    placed = [_placed(run, part.start, part.side, sign) for run in runs]
    return sorted(placed)


def _reach(part: Steps | Slope | Premium, span: Span, factor: str) -> float:
    """How far steps have to be laid: to the end of the part, or of what the factor can be."""
    legal = FACTORS[factor]
    if part.side is Side.BELOW:
        return part.start - max(span.low, legal.low)
    return min(span.high, legal.high) - part.start


def _stepped(amount: float, step: float, most: float, reach: float, *, started: bool) -> list[Run]:
    """Distances from the start: ``amount`` a step, growing to ``most``."""
    to_most = math.inf if amount <= 0 else most / amount
    count = math.ceil(max(reach, step) / step - _NEAR)
    if not started:
        count += 1
    if min(count, to_most) > _MOST_STEPS:
        raise NoAnswer("schedule-too-fine", steps=float(min(count, to_most)), most=float(_MOST_STEPS))
    runs: list[Run] = []
    for k in range(count):
        paid = amount * (k + 1 if started else k)
        last = k == count - 1 or paid >= most
        runs.append((k * step, math.inf if last else (k + 1) * step, min(paid, most), 0.0))
        if last:
            break
    return runs


def _sloped(slope: float, most: float) -> list[Run]:
    if math.isinf(most) or slope <= 0:
        return [(0.0, math.inf, 0.0, slope)]
    full = most / slope
    return [(0.0, full, 0.0, slope), (full, math.inf, most, 0.0)]


def _placed(run: Run, start: float, side: Side, sign: float) -> Run:
    """From distances to values of the factor."""
    near, far, amount, slope = run
    if side is Side.ABOVE:
        return start + near, start + far, sign * (amount - slope * start), sign * slope
    return start - far, start - near, sign * (amount + slope * start), -sign * slope
