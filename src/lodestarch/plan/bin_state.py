"""A bin as the day leaves it, from the loads that went into it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import polars as pl

from lodestarch.method.blend import Lot, blend
from lodestarch.method.judge import Status
from lodestarch.method.reading import Kind

__all__ = ["BinState", "bin_states"]


@dataclass(frozen=True, slots=True)
class BinState:
    """A bin computed as if turned: LN by mass over the loads with a result.

    A bin is layers until it is turned, so its mean is not what comes out of the gate. ``seconds`` is ``None``
    where no load has a result, or where results of different bases lie in one bin (``comparable`` False).
    """

    bin_id: str
    tonnes_tested: float
    tonnes_untested: float
    loads: int
    comparable: bool
    seconds: float | None
    kind: int | None
    fn_low_s: float | None
    fn_high_s: float | None
    """None: no upper bound, or no value."""


def bin_states(samples: pl.DataFrame, results: pl.DataFrame) -> tuple[BinState, ...]:
    """Compute every bin that the sample sheet names.

    Parameters
    ----------
    samples : polars.DataFrame
        In ``table.SAMPLES``; rows of kind *load* with a bin and tonnes count.
    results : polars.DataFrame
        In ``table.RESULTS``; preliminary and screen results count, held ones do not.

    Returns
    -------
    tuple of BinState
        In the order of the bins' names.
    """
    loads = samples.filter(
        (pl.col("kind") == "load") & pl.col("bin").is_not_null() & (pl.col("tonnes") > 0)
    ).select("sample", "bin", "tonnes")
    usable = results.filter(
        pl.col("status").is_in([Status.PRELIMINARY.value, Status.SCREEN.value])
        & pl.col("seconds").is_not_null()
    ).select("sample", "mean_s", pl.col("kind").alias("result_kind"), "comparable_key")
    joined = loads.join(usable, on="sample", how="left", maintain_order="left")
    return tuple(
        _state(str(name), part) for (name,), part in joined.sort("bin").group_by("bin", maintain_order=True)
    )


def _state(name: str, part: pl.DataFrame) -> BinState:
    tested = part.filter(pl.col("mean_s").is_not_null())
    tonnes = float(tested["tonnes"].sum())
    untested = float(part["tonnes"].sum()) - tonnes
    keys = tested["comparable_key"].n_unique()
    if keys != 1:
        return BinState(name, tonnes, untested, part.height, keys == 0, None, None, None, None)
    mix = blend(
        [
            Lot(row["mean_s"], row["tonnes"], Kind(row["result_kind"]), None, row["comparable_key"])
            for row in tested.iter_rows(named=True)
        ]
    )
    high = mix.fn_high_s if math.isfinite(mix.fn_high_s) else None
    return BinState(
        name, tonnes, untested, part.height, True, mix.seconds_s, mix.kind.value, mix.fn_low_s, high
    )
