"""Ratings as open data: CSV that says what it is in its columns, with nothing that names a customer."""

from __future__ import annotations

from lodestarch.sheets.safe_cells import csv_bytes
from lodestarch.work.season.answers import RatingAnswer

__all__ = ["ratings_csv"]

_COLUMNS = (
    "factor", "level", "rated", "results", "trials", "seasons", "estimate_s", "low_s", "high_s", "interval",
    "reliability", "limit_s", "below_limit",
)  # fmt: skip


def ratings_csv(answer: RatingAnswer) -> str:
    """Every level that is rated or not, with the numbers behind it."""
    rows = [
        (
            r.factor, x.level, "yes" if x.rated else "no", x.results, x.trials, x.seasons,
            _short(x.estimate_s, 1),
            _short(x.low_s, 1), _short(x.high_s, 1), r.probability, _short(x.reliability, 3), r.limit_s,
            _short(x.below, 3),
        )
        for r in answer.ratings
        for x in r.lines
    ]  # fmt: skip
    return csv_bytes(_COLUMNS, rows).decode("utf-8")


def _short(value: float | None, decimals: int) -> float | None:
    return None if value is None else round(value, decimals)
