"""A day in figures."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from lodestarch.method.judge import Status
from lodestarch.method.reading import Kind, State

__all__ = ["DayCounts", "count_day", "outcome_of"]


@dataclass(frozen=True, slots=True)
class DayCounts:
    """The day in figures; every sample falls in exactly one of the first five."""

    stand: int
    """Samples with a result that stands, above the floor."""
    at_floor: int
    """Samples at or below the floor."""
    screen: int
    """Samples with one tube only."""
    run_again: int
    """Samples that are held: a pair disagrees, or a reading must be run again."""
    no_result: int
    """Samples with no reading that counts."""
    samples: int
    readings: int
    set_aside: int


def outcome_of() -> pl.Expr:
    """Expression over ``table.RESULTS``: which of the five outcomes a sample has."""
    return (
        pl.when(
            (pl.col("status") == Status.HELD.value) | ((pl.col("tubes") == 0) & (pl.col("run_again") > 0))
        )
        .then(pl.lit("run_again"))
        .when(pl.col("tubes") == 0)
        .then(pl.lit("no_result"))
        .when(pl.col("status") == Status.SCREEN.value)
        .then(pl.lit("screen"))
        .when(pl.col("kind") == Kind.AT_OR_BELOW.value)
        .then(pl.lit("at_floor"))
        .otherwise(pl.lit("stand"))
    )


def count_day(results: pl.DataFrame, judged: pl.DataFrame) -> DayCounts:
    """Count the outcomes of a day's samples (``table.RESULTS``) and readings (``table.JUDGED``)."""
    counted = dict(results.select(outcome_of().alias("o"))["o"].value_counts().iter_rows())
    return DayCounts(
        **{k: int(counted.get(k, 0)) for k in ("stand", "at_floor", "screen", "run_again", "no_result")},
        samples=results.height,
        readings=judged.height,
        set_aside=int((judged["state"] == State.SET_ASIDE.value).sum()),
    )
