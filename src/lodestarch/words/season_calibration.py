"""What was told beforehand against what came, in words and pictures: odds, priors, own blends, fields."""

from __future__ import annotations

from lodestarch.season.blends import BlendRecord
from lodestarch.season.harvest_order import HarvestOrder
from lodestarch.season.odds_record import OddsRecord
from lodestarch.season.priors import PriorRecord
from lodestarch.season.told_odds import HERE, OddsTold
from lodestarch.words.catalogues import DEFAULT_LOCALE, term
from lodestarch.words.drawing.plot import Axis, Curve, Dots, plot, span_of, ticks_for
from lodestarch.words.drawing.svg import Drawing
from lodestarch.words.numbers import DASH, number
from lodestarch.words.season import share_text

__all__ = [
    "HEIGHT_PX", "blend_picture", "blend_rows", "odds_picture", "odds_rows", "order_rows", "outcome_rows",
    "prior_picture", "prior_rows", "score_row",
]  # fmt: skip

HEIGHT_PX = 320.0
_PERCENT = Axis(0.0, 100.0, (0.0, 20.0, 40.0, 60.0, 80.0, 100.0), "")


def odds_rows(record: OddsRecord) -> list[tuple[str, ...]]:
    """A row a group of lots that were told about the same."""
    return [
        (
            share_text(b.said), share_text(b.came),
            f"{share_text(b.low)} … {share_text(b.high)}", number(b.count),
        )
        for b in record.bins
    ]  # fmt: skip


def outcome_rows(lines: tuple[OddsTold, ...], locale: str = DEFAULT_LOCALE) -> list[tuple[str, ...]]:
    """A row a lot that was tested a second time."""
    here = term("season-page.odds-here", locale)
    return [
        (
            x.sample, here if x.lab == HERE else x.lab, number(x.limit_s), share_text(x.odds),
            number(x.found_s), term("season-page.yes" if x.met else "season-page.no", locale),
        )
        for x in lines
    ]  # fmt: skip


def odds_picture(record: OddsRecord, locale: str = DEFAULT_LOCALE) -> Drawing | None:
    """Odds told across, shares that came upward, each with its interval; on the line both are alike."""
    if not record.bins or record.said is None or record.came is None:
        return None
    x = Axis(0.0, 100.0, _PERCENT.ticks, term("season-calibration.odds-x", locale))
    y = Axis(0.0, 100.0, _PERCENT.ticks, term("season-calibration.odds-y", locale))
    line = Curve([100.0, 0.0], [100.0, 0.0], "quiet", term("season-calibration.right", locale))
    ends = [Curve([100.0 * b.said] * 2, [100.0 * b.low, 100.0 * b.high], "first") for b in record.bins]
    dots = Dots([100.0 * b.said for b in record.bins], [100.0 * b.came for b in record.bins])
    said = {"said": share_text(record.said), "came": share_text(record.came)}
    title = term("season-calibration.odds-title", locale, count=number(record.count), **said)
    return plot([line, *ends], x, y, title, dots=[dots], height_px=HEIGHT_PX)


def prior_rows(record: PriorRecord) -> list[tuple[str, ...]]:
    """A row a tenth: results that fell there, and as many as are expected."""
    whole = sum(record.places)
    return [
        (f"{10 * i} … {10 * (i + 1)} %", number(n), number(whole / len(record.places), 1))
        for i, n in enumerate(record.places)
    ]


def prior_picture(record: PriorRecord, locale: str = DEFAULT_LOCALE) -> Drawing | None:
    """Results by tenths of what was foretold for them."""
    if not record.places:
        return None
    expected = sum(record.places) / len(record.places)
    top = 1.1 * max(*record.places, expected)
    x = Axis(0.0, 100.0, _PERCENT.ticks, term("season-calibration.prior-x", locale))
    y = Axis(0.0, top, ticks_for(0.0, top, 5), term("season-calibration.prior-y", locale))
    at = [10.0 * i + 5.0 for i in range(len(record.places))]
    stems = [Curve([a, a], [0.0, float(n)], "first") for a, n in zip(at, record.places, strict=True)]
    even = Curve([0.0, 100.0], [expected, expected], "second")
    title = term("season-calibration.prior-title", locale, count=number(sum(record.places)))
    dots = Dots(at, [float(n) for n in record.places])
    return plot([*stems, even], x, y, title, dots=[dots], height_px=0.8 * HEIGHT_PX)


def blend_rows(record: BlendRecord) -> list[tuple[str, ...]]:
    """A row a blend."""
    return [
        (
            x.name, number(x.lots), number(x.predicted_s), number(x.measured_s),
            number(x.error_s) if x.compared else DASH,
        )
        for x in record.lines
    ]  # fmt: skip


def blend_picture(record: BlendRecord, locale: str = DEFAULT_LOCALE) -> Drawing | None:
    """Computed across, measured upward; blends that only bound are open."""
    if not record.lines:
        return None
    values = [v for line in record.lines for v in (line.predicted_s, line.measured_s)]
    x = span_of(values, term("season-blend-picture.x", locale))
    y = span_of(values, term("season-blend-picture.y", locale))
    line = Curve([x.high, x.low], [x.high, x.low], "quiet", term("season-blend-picture.law", locale))
    full = [b for b in record.lines if b.compared]
    bound = [b for b in record.lines if not b.compared]
    dots = [Dots([b.predicted_s for b in full], [b.measured_s for b in full]),
            Dots([b.predicted_s for b in bound], [b.measured_s for b in bound], "dot open")]  # fmt: skip
    said = {"count": number(record.compared), "bias": number(record.bias_s, 1)}
    title = term("season-blend-picture.title", locale, **said)
    return plot([line], x, y, title, dots=dots, height_px=HEIGHT_PX)


def order_rows(order: HarvestOrder) -> list[tuple[str, ...]]:
    """A row a field that is placed, the first to cut on top."""
    return [
        (
            x.name, share_text(x.meets), share_text(x.falls), number(x.at_stake_t, 1),
            number(x.per_hour_t, 1),
        )
        for x in order.lines
    ]  # fmt: skip


def score_row(record: PriorRecord) -> tuple[str, str, str]:
    """Mean log scores: near, pooled, flat."""
    return number(record.near, 3), number(record.pooled, 3), number(record.flat, 3)
