"""Answers on the season in words: rows of tables, titles, and pictures with what they show as a sentence."""

from __future__ import annotations

from collections.abc import Sequence

from lodestarch.season.effects import Effects
from lodestarch.season.faults import Fault
from lodestarch.season.indicators import Harvest
from lodestarch.season.ratings import Rating, Ratings
from lodestarch.season.scale import Scale
from lodestarch.words.catalogues import DEFAULT_LOCALE, term
from lodestarch.words.drawing.caterpillar import IntervalRow, caterpillar, caterpillar_height
from lodestarch.words.drawing.plot import Axis, ticks_for
from lodestarch.words.drawing.svg import Drawing
from lodestarch.words.numbers import DASH, number

__all__ = [
    "chance_text", "effect_rows", "factor_word", "fault_rows", "harvest_rows", "rating_rows",
    "ratings_picture",
    "share_text", "shares_picture", "span", "weather_rows",
]  # fmt: skip

MOST_ROWS = 60
"""Levels drawn in one picture."""


def factor_word(name: str, locale: str = DEFAULT_LOCALE) -> str:
    """A factor as it is read."""
    return term("season.residual", locale) if name == "residual" else name


def span(low: float | None, high: float | None, decimals: int) -> str:
    """Both ends of an interval; an open one is a dash."""
    return f"{number(low, decimals)} … {number(high, decimals)}"


def share_text(share: float | None) -> str:
    """A share in per cent."""
    return DASH if share is None else f"{number(100.0 * share, 1)} %"


def chance_text(chance: float) -> str:
    """A small probability as a count."""
    if chance >= 0.001:
        return f"{number(100.0 * chance, 1)} %"
    return "< 1 : 10\u2076" if chance < 1e-6 else f"1 : {number(1.0 / chance, 0)}"


def effect_rows(e: Effects, locale: str = DEFAULT_LOCALE) -> list[tuple[str, ...]]:
    """A row a component: factor, levels, SD with its interval, share with its interval."""
    decimals = 1 if e.scale is Scale.SECONDS else 3
    return [
        (
            factor_word(x.name, locale), number(x.levels, 0), number(x.sd, decimals),
            span(*x.sd_ends, decimals), share_text(x.share),
            " … ".join(share_text(s) for s in x.share_ends),
        )
        for x in e.effects
    ]  # fmt: skip


def rating_rows(lines: Sequence[Rating], locale: str = DEFAULT_LOCALE) -> list[tuple[str, ...]]:
    """A row a level."""
    return [
        (
            x.level, number(x.results, 0), number(x.trials, 0), number(x.seasons, 0),
            number(x.estimate_s, 0) if x.rated else term("season.rating-not", locale),
            span(x.low_s, x.high_s, 0) if x.rated else DASH, number(x.mean_s, 0),
            number(x.reliability, 2), share_text(x.below),
        )
        for x in lines
    ]  # fmt: skip


def harvest_rows(
    harvests: Sequence[Harvest], days: Sequence[str], locale: str = DEFAULT_LOCALE
) -> list[tuple[str, ...]]:
    """A row a harvest date: results, those that only bound, mean, range, and the cause made plausible."""
    return [
        (
            day, number(h.results, 0), number(h.at_bound, 0), number(h.mean_s, 0), span(h.low_s, h.high_s, 0),
            term(f"season-cause.{h.cause}", locale),
        )
        for h, day in zip(harvests, days, strict=True)
    ]  # fmt: skip


def weather_rows(harvests: Sequence[Harvest], days: Sequence[str]) -> list[tuple[str, ...]]:
    """A row a harvest date: every indicator, the day of the year last."""
    return [
        (day, *(number(v, 1 if i < len(h.values) - 1 else 0) for i, v in enumerate(h.values)))
        for h, day in zip(harvests, days, strict=True)
    ]


def fault_rows(faults: Sequence[Fault], locale: str = DEFAULT_LOCALE) -> list[tuple[str, ...]]:
    """A row a suspicion: what, rows, chance."""
    return [
        (
            term(f"season-fault.{f.kind}", locale),
            ", ".join(str(r) for r in f.rows[:4]) + (" …" if len(f.rows) > 4 else "") or DASH,
            chance_text(f.chance),
        )
        for f in faults
    ]


def shares_picture(e: Effects, locale: str = DEFAULT_LOCALE) -> tuple[Drawing, float]:
    """Shares of variance with their intervals."""
    rows = [
        IntervalRow(
            factor_word(x.name, locale), 100.0 * x.share, 100.0 * (x.share_ends[0] or 0.0),
            100.0 * (1.0 if x.share_ends[1] is None else x.share_ends[1]), share_text(x.share),
        )
        for x in e.effects
    ]  # fmt: skip
    most = max(e.effects, key=lambda x: x.share)
    title = term(
        "season-drawing.shares-title",
        locale,
        what=factor_word(most.name, locale),
        share=share_text(most.share),
    )
    x = Axis(0.0, 100.0, ticks_for(0.0, 100.0, 6), term("season-drawing.share-axis", locale))
    return caterpillar(rows, x, title), caterpillar_height(len(rows))


def ratings_picture(
    ratings: Ratings, mean_s: float | None = None, locale: str = DEFAULT_LOCALE
) -> tuple[Drawing, float] | None:
    """The caterpillar of one factor's ratings; ``None`` where nothing is rated."""
    rated = [x for x in ratings.lines if x.rated]
    if not rated:
        return None
    shown = rated if len(rated) <= MOST_ROWS else [*rated[: MOST_ROWS // 2], *rated[-MOST_ROWS // 2 :]]
    ends = [v for x in shown for v in (x.low_s, x.high_s) if v is not None]
    low, high = min([*ends, ratings.limit_s]), max([*ends, ratings.limit_s])
    margin = max(0.05 * (high - low), 5.0)
    low, high = max(low - margin, 0.0), min(high + margin, 1200.0)
    x = Axis(low, high, ticks_for(low, high, 7), term("season-drawing.seconds-axis", locale))
    rows = [
        IntervalRow(r.level, r.estimate_s, r.low_s, r.high_s, f"n {r.results} · {share_text(r.below)}")
        for r in shown
    ]
    mean = mean_s if mean_s is not None else sum(r.estimate_s or 0.0 for r in rated) / len(rated)
    clear = sum((r.low_s or 0.0) > mean or (r.high_s or 0.0) < mean for r in rated)
    said = {
        "factor": ratings.factor,
        "count": len(rated),
        "clear": clear,
        "limit": number(ratings.limit_s, 0),
    }
    title = term("season-drawing.ratings-title", locale, **said)
    limit = (ratings.limit_s, f"{number(ratings.limit_s, 0)} s")
    return caterpillar(rows, x, title, limit=limit, middle=mean), caterpillar_height(len(rows))
