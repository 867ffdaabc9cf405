"""Readings that stand, judged by a given law."""

from __future__ import annotations

from collections.abc import Mapping

import polars as pl

from lodestarch.method.judging import Judged, judge
from lodestarch.method.scatter import DEFAULT_SCATTER, ScatterLaw
from lodestarch.method.table import READINGS
from lodestarch.records.unit import View
from lodestarch.work.bench.choices import profile_of_bench
from lodestarch.work.keeping.profiles import ProfileBook

__all__ = ["judge_by"]


def judge_by(
    view: View,
    readings: pl.DataFrame,
    book: ProfileBook,
    law: ScatterLaw = DEFAULT_SCATTER,
    laws: Mapping[str, ScatterLaw] | None = None,
) -> Judged:
    """Judge readings under the profile of the bench.

    Parameters
    ----------
    view : View
    readings : polars.DataFrame
        With the columns of ``method.table.READINGS``.
    book : ProfileBook
    law, laws
        As ``method.judging.judge`` takes them. What the law says is in u alone: readings that only serve for
        their pairs or for the mean of a check sample may be judged by the default.
    """
    frame = readings.select(list(READINGS)).with_columns(row=pl.int_range(1, pl.len() + 1, dtype=pl.Int64))
    return judge(frame, book.by_any_name(), profile_of_bench(view, book), law, laws=laws)
