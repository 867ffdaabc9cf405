"""Does a schedule say one thing, and only one, wherever it says anything?"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, Literal

from lodestarch.trade.schedule import Cliff, Part, Schedule, Side, Table, Window

__all__ = ["ScheduleTrouble", "Span", "schedule_troubles", "spans_of"]


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


_TOLERANCE: Final = 1e-9


@dataclass(frozen=True, slots=True)
class Span:
    """What one part or band covers, and on which sides the plain price may lie beside it.

    ``part`` and ``band`` count from 0; ``band`` is ``None`` for a part that is no table.
    """

    name: str
    part: int
    band: int | None
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
    >>> from lodestarch.common.provenance import Provenance
    >>> from lodestarch.trade.schedule import Action, Steps
    >>> steps = Steps(300, Side.BELOW, step=25, discount=25, end=260)
    >>> cliff = Cliff(250, Side.BELOW, Action.REJECT)
    >>> fn = Schedule("x", "", "fn_s", None, "better", 0, (steps, cliff), None, None, Provenance.INVENTED)
    >>> schedule_troubles(fn)
    (ScheduleTrouble(kind='gap', part='part 2', other='part 1', low=250, high=260),)
    """
    order = [t for i, part in enumerate(schedule.parts, 1) for t in _order(part, f"part {i}")]
    if order:
        return tuple(order)
    spans = spans_of(schedule)
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


def spans_of(schedule: Schedule) -> list[Span]:
    """Return what every part and band covers, from low to high."""
    spans = [s for i, part in enumerate(schedule.parts) for s in _spans(part, i)]
    return sorted(spans, key=lambda s: (s.low, s.high))


def _spans(part: Part, i: int) -> Iterator[Span]:
    name = f"part {i + 1}"
    if isinstance(part, Table):
        yield from _table_spans(part, i)
    elif isinstance(part, Window):
        yield Span(name, i, None, -math.inf, part.at_least, free_below=False, free_above=True)
        yield Span(name, i, None, part.at_most, math.inf, free_below=True, free_above=False)
    else:
        end = None if isinstance(part, Cliff) else part.end
        if part.side is Side.BELOW:
            low = -math.inf if end is None else end
            yield Span(name, i, None, low, part.start, free_below=False, free_above=True)
        else:
            high = math.inf if end is None else end
            yield Span(name, i, None, part.start, high, free_below=True, free_above=False)


def _table_spans(table: Table, part: int) -> Iterator[Span]:
    lows = [-math.inf if b.low is None else b.low for b in table.bands]
    highs = [math.inf if b.high is None else b.high for b in table.bands]
    lowest, highest = (
        min(range(len(lows)), key=lows.__getitem__),
        max(range(len(highs)), key=highs.__getitem__),
    )
    below, above = table.bands[lowest].amount, table.bands[highest].amount
    for i in range(len(table.bands)):
        yield Span(
            f"part {part + 1} band {i + 1}",
            part,
            i,
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
