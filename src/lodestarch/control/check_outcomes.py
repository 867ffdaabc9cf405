"""How each check sample came out: in, off, or no answer."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import polars as pl

from lodestarch.control.bench_rules import CHECK_LIMIT_U, CheckMaterial
from lodestarch.method.judge import Status
from lodestarch.method.reading import Kind

__all__ = ["CHECK_OUTCOMES", "check_outcomes"]

CHECK_OUTCOMES: Final[dict[str, pl.DataType]] = {
    "sample": pl.String(),
    "material": pl.String(),  # as the lab names it
    "mill_id": pl.String(),  # null: meal, or not stated
    "seconds": pl.Float64(),
    "mean_s": pl.Float64(),
    "kind": pl.Int8(),
    "tubes": pl.Int64(),
    "target_s": pl.Float64(),
    "z": pl.Float64(),  # from the target, in standard uncertainties
    "outcome": pl.String(),  # good, off; unsettled where its own pair disagrees
}
"""A row a check sample with a result."""


def check_outcomes(
    results: pl.DataFrame, samples: pl.DataFrame, materials: Sequence[CheckMaterial]
) -> pl.DataFrame:
    """Hold every check sample with a result against its target.

    Parameters
    ----------
    results, samples : polars.DataFrame
        In ``method.table.RESULTS`` and ``SAMPLES``.
    materials : sequence of CheckMaterial

    Returns
    -------
    polars.DataFrame
        In ``CHECK_OUTCOMES``. *Off*: outside target ± 3 u, or a bound that excludes that band. Materials
        that are not known are left out.
    """
    known = pl.DataFrame(
        [(m.material_id.casefold(), m.name, m.target_s, m.u_s) for m in materials],
        schema={"id": pl.String, "material": pl.String, "target_s": pl.Float64, "u_s": pl.Float64},
        orient="row",
    )
    checks = samples.filter(pl.col("kind") == "check").select(
        "sample", "mill_id", pl.col("material").str.strip_chars().str.to_lowercase().alias("id")
    )
    frame = checks.join(known, on="id", how="inner", maintain_order="left").join(
        results.select("sample", "seconds", "mean_s", "kind", "tubes", "status"), on="sample", how="inner",
        maintain_order="left",
    ).filter(pl.col("seconds").is_not_null())  # fmt: skip
    z = (pl.col("seconds") - pl.col("target_s")) / pl.col("u_s")
    off = ((z < -CHECK_LIMIT_U) & (pl.col("kind") != Kind.ABOVE.value)) | (
        (z > CHECK_LIMIT_U) & (pl.col("kind") != Kind.AT_OR_BELOW.value)
    )
    outcome = (
        pl.when(off)
        .then(pl.lit("off"))
        .when(pl.col("status") == Status.HELD.value)
        .then(pl.lit("unsettled"))
        .otherwise(pl.lit("good"))
    )
    return frame.with_columns(z.alias("z"), outcome.alias("outcome")).select(
        pl.col(name).cast(kind) for name, kind in CHECK_OUTCOMES.items()
    )
