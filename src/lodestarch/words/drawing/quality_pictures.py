"""Pictures of the bench's own quality: duplicates against level, control charts, two methods compared."""

from __future__ import annotations

from collections.abc import Sequence

from lodestarch.control.chart_report import MaterialChart
from lodestarch.control.comparison import Comparison
from lodestarch.control.duplicates import DuplicateReport
from lodestarch.words.catalogues import term
from lodestarch.words.drawing.plot import Axis, Curve, Dots, plot, span_of, ticks_for
from lodestarch.words.drawing.svg import Drawing
from lodestarch.words.numbers import figure, number

__all__ = ["HEIGHT_PX", "chart_picture", "comparison_picture", "duplicates_picture"]

HEIGHT_PX = 300.0


def duplicates_picture(
    levels_s: Sequence[float], gaps_s: Sequence[float], report: DuplicateReport
) -> Drawing:
    """Gap of every exact pair against its level, and the limit that good pairs keep."""
    at = [one.sd.fn_s for one in report.levels]
    limits = [one.limit_s for one in report.levels]
    x = span_of([*levels_s, *at], term("quality.axis-level"))
    top = 1.08 * max([*gaps_s, *limits])
    y = Axis(0.0, top, ticks_for(0.0, top, 6), term("quality.axis-gap"))
    share = number(100.0 * report.probability, 0)
    title = term("quality.title-duplicates", pairs=report.scatter.used, far=report.far_count, share=share)
    limit = Curve(at, limits, "second", term("quality.limit-label", share=share))
    return plot([limit], x, y, title, dots=[Dots(levels_s, gaps_s)], height_px=HEIGHT_PX)


def chart_picture(material: MaterialChart, values: Sequence[float]) -> Drawing:
    """Values of one material in order of time, with its centre and limits; broken rules as open dots."""
    chart = material.individuals
    places = [float(i + 1) for i in range(len(values))]
    ends = [*values] + ([] if chart is None else [chart.lower_widened, chart.upper_widened])
    x = Axis(
        0.5, len(values) + 0.5, ticks_for(1.0, max(float(len(values)), 2.0), 8), term("quality.axis-order")
    )
    y = span_of(ends, term("quality.axis-value"))
    curves = [Curve(places, values, "quiet")] if len(values) > 1 else []
    if chart is not None:
        for value, class_, name in (
            (chart.upper_widened, "second", "quality.upper"),
            (chart.baseline.centre, "first", "quality.centre"),
            (chart.lower_widened, "second", "quality.lower"),
        ):
            curves.append(Curve([0.5, len(values) + 0.5], [value, value], class_, term(name)))
    broken = {s.at for s in material.signals}
    calm = [i for i in range(len(values)) if i not in broken]
    dots = [
        Dots([places[i] for i in calm], [values[i] for i in calm]),
        Dots([places[i] for i in sorted(broken)], [values[i] for i in sorted(broken)], "dot open"),
    ]
    name = material.material or term("quality.one-material")
    title = term("quality.title-chart", material=name, values=len(values), broken=len(material.signals))
    return plot(curves, x, y, title, dots=dots, height_px=HEIGHT_PX)


def comparison_picture(a: Sequence[float], b: Sequence[float], found: Comparison) -> Drawing | None:
    """Difference of every pair against its level, with the limits of agreement."""
    d = found.differences
    if d is None:
        return None
    level = [0.5 * (p + q) for p, q in zip(a, b, strict=True)]
    apart = [p - q for p, q in zip(a, b, strict=True)]
    x = span_of(level, term("quality.axis-mean"))
    y = span_of([*apart, *d.limits, 0.0], term("quality.axis-difference"))
    ends = [x.low, x.high]
    curves = [
        Curve(ends, [d.limits[1]] * 2, "second", figure(d.limits[1], 1)),
        Curve(ends, [d.mean] * 2, "first", figure(d.mean, 1)),
        Curve(ends, [d.limits[0]] * 2, "second", figure(d.limits[0], 1)),
    ]
    title = term("quality.title-compare", mean=figure(d.mean, 1), pairs=found.pairs)
    return plot(curves, x, y, title, dots=[Dots(level, apart)], height_px=HEIGHT_PX)
