"""A lab's own duplicates, taken from readings that it has judged.

A pair that disagreed is a pair all the same: leaving it out would make the scatter look smaller than it is.
Only a recorded cause, or a reading that cannot be one, takes a tube out. Each pair says by which method it
was made (material, portion, basis, water), because pairs of two methods do not tell the scatter of either.
"""

from __future__ import annotations

from typing import Final

import polars as pl

from lodestarch.control.bench_pairs import PAIR_KEYS
from lodestarch.method.reading import Kind, State
from lodestarch.precision.pairs import Pairs, clean_pairs

__all__ = ["KEPT_PAIRS", "OWN_PAIRS", "of_method", "own_pairs", "pairs_of"]

OWN_PAIRS: Final[dict[str, pl.DataType]] = {
    "sample": pl.String(),
    "first_s": pl.Float64(),
    "second_s": pl.Float64(),
    "first_kind": pl.Int8(),
    "second_kind": pl.Int8(),
}
"""A row a pair of tubes that were lowered together."""

KEPT_PAIRS: Final[dict[str, pl.DataType]] = {**OWN_PAIRS, "method": pl.String()}
"""Pairs with the ``comparable_key`` of their results; null where nobody knows it."""

_COUNTS: Final = ("pair-disagrees", "left-out-by-rule")
"""Codes of readings that are no result, and yet say how tubes scatter."""


def own_pairs(judged: pl.DataFrame, results: pl.DataFrame, *, floor_s: float) -> pl.DataFrame:
    """Return the pairs of tubes lowered together.

    Parameters
    ----------
    judged : polars.DataFrame
        In ``method.table.JUDGED``.
    results : polars.DataFrame
        Results of the same samples, in ``method.table.RESULTS``: they say by which method a pair was made.
    floor_s : float
        At or below it a reading is a bound. [s]

    Returns
    -------
    polars.DataFrame
        In ``KEPT_PAIRS``, in the order given. Lowerings with another number of usable tubes than two are
        left out.
    """
    usable = judged.filter(
        pl.col("set_aside_cause").is_null(),
        (pl.col("state") == State.STANDS.value) | pl.col("state_code").is_in(_COUNTS),
    ).with_columns(
        pl.when((pl.col("seconds") <= floor_s) & (pl.col("kind") == Kind.EXACT.value))
        .then(pl.lit(Kind.AT_OR_BELOW.value, pl.Int8))
        .otherwise("kind")
        .alias("kind")
    )
    both = (
        usable.group_by(PAIR_KEYS, maintain_order=True)
        .agg(
            pl.len().alias("n"),
            pl.col("seconds").first().alias("first_s"),
            pl.col("seconds").last().alias("second_s"),
            pl.col("kind").first().alias("first_kind"),
            pl.col("kind").last().alias("second_kind"),
        )
        .filter(pl.col("n") == 2)
    )
    keys = results.select("sample", method="comparable_key").unique("sample", keep="first")
    known = both.join(keys, on="sample", how="left", maintain_order="left")
    return known.select(pl.col(name).cast(kind) for name, kind in KEPT_PAIRS.items())


def of_method(kept: pl.DataFrame, method: str) -> tuple[pl.DataFrame, tuple[tuple[str, int], ...]]:
    """Part pairs by method.

    Parameters
    ----------
    kept : polars.DataFrame
        In ``KEPT_PAIRS``.
    method : str
        ``Profile.comparable_key`` or ``as_is_key``.

    Returns
    -------
    polars.DataFrame
        Pairs of that method, in ``OWN_PAIRS``.
    tuple of (str, int)
        Other methods with their number of pairs, the most first; an unknown one is an empty text.
    """
    mine = kept.filter(pl.col("method") == method).select(list(OWN_PAIRS))
    rest = kept.filter(pl.col("method").is_null() | (pl.col("method") != method))
    counted = rest.group_by(pl.col("method").fill_null("")).agg(pl.len().alias("n"))
    ordered = counted.sort("n", "method", descending=[True, False])
    return mine, tuple((str(name), int(n)) for name, n in ordered.iter_rows())


def pairs_of(frame: pl.DataFrame) -> Pairs:
    """Return a frame in ``OWN_PAIRS`` as what a fit takes; what cannot be used is named in its findings."""
    return clean_pairs(
        frame["first_s"].fill_null(float("nan")).to_numpy(),
        frame["second_s"].fill_null(float("nan")).to_numpy(),
        first_kind=frame["first_kind"].to_numpy(),
        second_kind=frame["second_kind"].to_numpy(),
        names=[s or "" for s in frame["sample"].to_list()],
    )
