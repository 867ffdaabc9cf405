"""Charts of a check material: single values, moving range, EWMA, CUSUM over one axis, upkeep marked."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from lodestarch.control.check_charts import CheckChart, MarkedUpkeep
from lodestarch.words.catalogues import term
from lodestarch.words.drawing.plot import Axis, Band, Curve, Dots, Stake, plot, span_of, ticks_for
from lodestarch.words.drawing.svg import Drawing

__all__ = ["control_pictures", "numbered_marks"]

_TALL_PX = 260.0
_LOW_PX = 170.0


def numbered_marks(marks: Sequence[MarkedUpkeep]) -> tuple[tuple[str, int, tuple[MarkedUpkeep, ...]], ...]:
    """Give each place where upkeep was done its mark: (``U1``, place, what was done there)."""
    groups = groupby(marks, key=lambda m: m.place)
    return tuple((f"U{n}", place, tuple(group)) for n, (place, group) in enumerate(groups, start=1))


def control_pictures(chart: CheckChart, title: str) -> tuple[Drawing, ...]:
    """Draw what there is of a chart: single values; and, with an SD, moving range, EWMA and CUSUM.

    Parameters
    ----------
    chart : CheckChart
    title : str
        The finding, for the first picture.
    """
    values = [chart.values["seconds"][row] for row in chart.chart.rows]
    n = len(values)
    stakes = [Stake(place + 0.5, mark) for mark, place, _ in numbered_marks(chart.marks)]
    # Room behind the last value for the names of the lines.
    end = n + max(1.0, 0.15 * n)
    x = Axis(0.5, end, _whole(n), term("control.chart.axis-order"))
    pictures = [_individuals(chart, values, x, stakes, title)]
    if chart.chart.individuals is not None:
        if n > 1:
            pictures.append(_ranges(chart, x, stakes))
        pictures += [_ewma(chart, x, stakes), _cusum(chart, x, stakes)]
    return tuple(pictures)


def _whole(n: int) -> tuple[float, ...]:
    """Whole numbers along the axis of order."""
    found = ticks_for(1.0, max(float(n), 2.0), 8)
    return tuple(t for t in found if t == round(t) and 1.0 <= t <= n) or (1.0,)


def _joined(ys: Sequence[float], class_: str, *, first: int = 1, label: str = "") -> list[Curve]:
    return [Curve([float(first + i) for i in range(len(ys))], ys, class_, label)] if len(ys) > 1 else []


def _across(x: Axis, value: float, class_: str, label: str = "") -> Curve:
    return Curve([x.low, x.high], [value, value], class_, label)


def _individuals(
    chart: CheckChart, values: Sequence[float], x: Axis, stakes: Sequence[Stake], title: str
) -> Drawing:
    broken = {i for i in range(len(values)) if chart.broken_at(i)}
    bands, curves, ends = list[Band](), _joined(values, "quiet"), [*values, chart.target_s]
    if chart.u_s is not None:
        low, high = chart.target_s - 3.0 * chart.u_s, chart.target_s + 3.0 * chart.u_s
        bands.append(Band([x.low, x.high], [low, low], [high, high], ""))
        ends += [low, high]
    curves.append(_across(x, chart.target_s, "first", term("control.chart.target")))
    lines = chart.chart.individuals
    if lines is not None and chart.sd_from == "own":
        ends += [lines.lower, lines.upper]
        curves.append(_across(x, lines.upper, "second", term("control.chart.limit")))
        curves.append(_across(x, lines.lower, "second"))
    dots = [
        Dots([i + 1.0 for i in range(len(values)) if i not in broken],
             [v for i, v in enumerate(values) if i not in broken]),
        Dots([i + 1.0 for i in sorted(broken)], [values[i] for i in sorted(broken)], "dot open"),
    ]  # fmt: skip
    y = span_of(ends, term("control.chart.axis-s"))
    return plot(curves, x, y, title, bands=bands, stakes=stakes, dots=dots, height_px=_TALL_PX)


def _ranges(chart: CheckChart, x: Axis, stakes: Sequence[Stake]) -> Drawing:
    found, limit = chart.chart.individuals, chart.range_limit_s
    assert found is not None and limit is not None  # noqa: S101, PT018 - the caller looked
    top = 1.1 * max([*found.moving_ranges, limit])
    y = Axis(0.0, top, ticks_for(0.0, top, 4), term("control.chart.axis-range"))
    curves = [
        *_joined(found.moving_ranges, "quiet", first=2),
        _across(x, limit, "second", term("control.chart.limit")),
    ]
    dots = [Dots([i + 2.0 for i in range(len(found.moving_ranges))], found.moving_ranges)]
    return plot(curves, x, y, term("control.chart.ranges"), stakes=stakes, dots=dots, height_px=_LOW_PX)


def _ewma(chart: CheckChart, x: Axis, stakes: Sequence[Stake]) -> Drawing:
    found = chart.chart.ewma
    assert found is not None  # noqa: S101 - comes with the individuals
    y = span_of([*found.ewma, found.upper, found.lower], term("control.chart.axis-s"), most=4)
    curves = [
        *_joined(found.ewma, "quiet"),
        _across(x, found.upper, "second", term("control.chart.limit")),
        _across(x, found.lower, "second"),
    ]
    dots = [Dots([i + 1.0 for i in range(len(found.ewma))], found.ewma)]
    return plot(curves, x, y, term("control.chart.ewma"), stakes=stakes, dots=dots, height_px=_LOW_PX)


def _cusum(chart: CheckChart, x: Axis, stakes: Sequence[Stake]) -> Drawing:
    found, lines = chart.chart.cusum, chart.chart.individuals
    assert found is not None and lines is not None  # noqa: S101, PT018 - both come together
    sd = lines.baseline.sd
    high, low, limit = ([v / sd for v in found.high], [-v / sd for v in found.low], found.limit / sd)
    top = 1.1 * max([*high, *(-v for v in low), limit])
    y = Axis(-top, top, ticks_for(-top, top, 5), term("control.chart.axis-sd"))
    curves = [
        *_joined(high, "first", label=term("control.chart.upper")),
        *_joined(low, "quiet", label=term("control.chart.lower")),
        _across(x, limit, "second"),
        _across(x, -limit, "second"),
    ]
    return plot(curves, x, y, term("control.chart.cusum"), stakes=stakes, height_px=_LOW_PX)
