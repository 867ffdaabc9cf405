"""Pairs of tubes of one sample that were lowered together: what several bench rules look at."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import polars as pl

from lodestarch.method.profile import Profile
from lodestarch.method.reading import Kind

__all__ = ["PAIR_KEYS", "constants_by_sample", "tube_pairs"]

PAIR_KEYS: Final = ("sample", "run", "bath", "run_at")
"""Two readings that share these were lowered together."""

_EACH: Final = ("row", "position", "tube_id", "stirrer_id", "seconds", "kind")
_CONSTANTS: Final[dict[str, pl.DataType]] = {
    "name": pl.String(),
    "stirring_s": pl.Float64(),
    "floor_s": pl.Float64(),
    "longest_reading_s": pl.Float64(),
    "least_ground_mass_g": pl.Float64(),
    "longest_grind_delay_h": pl.Float64(),
    "portion_rule": pl.String(),
    "material_in_tube": pl.String(),
}


def constants_by_sample(results: pl.DataFrame, profiles: Sequence[Profile]) -> pl.DataFrame:
    """Constants of the profile under which each sample was judged.

    Parameters
    ----------
    results : polars.DataFrame
        In ``method.table.RESULTS``; ``sample`` and ``profile`` are read.
    profiles : sequence of Profile
        Those that ``results`` names as ``id@version``.

    Returns
    -------
    polars.DataFrame
        A row a sample: ``sample``, ``profile`` and the constants that bench rules use. Samples of a profile
        that is not among ``profiles`` are left out: without constants there is nothing to hold them against.
    """
    rows = []
    for profile in profiles:
        c = profile.constants
        rows.append(
            (
                profile.name,
                c.stirring_s,
                c.floor_s,
                c.longest_reading_s,
                c.least_ground_mass_g,
                c.longest_grind_delay_h,
                c.portion_rule,
                c.material,
            )
        )
    table = pl.DataFrame(rows, schema=_CONSTANTS, orient="row")
    return results.select("sample", "profile").join(table, left_on="profile", right_on="name", how="inner")


def tube_pairs(judged: pl.DataFrame, constants: pl.DataFrame) -> pl.DataFrame:
    """Pairs of readings that can be held against each other.

    Parameters
    ----------
    judged : polars.DataFrame
        In ``method.table.JUDGED``.
    constants : polars.DataFrame
        From :func:`constants_by_sample`.

    Returns
    -------
    polars.DataFrame
        A row a pair, in the order of the sheet: ``sample, run, bath, run_at, ticket, profile,
        positions_stated`` and ``row_1, row_2, position_1, ...`` for both tubes; ``kind_1`` and ``kind_2`` are
        exact or at or below. Left out are readings set aside, stopped early, impossible ones, and those
        of an earlier sheet (no row); and where not exactly two are left of one lowering.
    """
    usable = (
        judged.join(constants.select("sample", pl.col("profile").alias("used"), "stirring_s", "floor_s",
                                     "longest_reading_s"), on="sample", how="inner")
        .filter(
            pl.col("row").is_not_null(),  # readings of an earlier sheet were looked at with that sheet
            pl.col("set_aside_cause").is_null(),
            pl.col("kind") != Kind.ABOVE,
            pl.col("seconds") <= pl.col("longest_reading_s"),
            pl.col("seconds") >= pl.col("stirring_s"),
        )
        .with_columns(
            # A reading typed as 62 under a floor of 62 says "at or below", whatever its typed form.
            pl.when(pl.col("seconds") <= pl.col("floor_s"))
            .then(pl.lit(int(Kind.AT_OR_BELOW), dtype=pl.Int8))
            .otherwise(pl.col("kind")).alias("kind")
        )
    )  # fmt: skip
    each = [
        getattr(pl.col(c), end)().alias(f"{c}_{i}") for c in _EACH for i, end in ((1, "first"), (2, "last"))
    ]
    return (
        usable.group_by(PAIR_KEYS, maintain_order=True)
        .agg(
            pl.len().alias("n"),
            pl.col("ticket").first(),
            pl.col("used").first().alias("profile"),
            pl.col("position_stated").fill_null(value=False).all().alias("positions_stated"),
            *each,
        )
        .filter(pl.col("n") == 2)
        .drop("n")
    )
