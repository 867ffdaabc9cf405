"""Mill carry-over: a sound sample ground straight after a sprouted one.

Meal left in the mill enters the next sample. Liquefaction numbers add by mass, so a little of a sample at
the floor moves a sound one by tens of seconds, and both tubes of its pair by the same amount: they agree,
and nothing else shows it.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import polars as pl

from lodestarch.common.arrays import FloatArray
from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.method.liquefaction import LN_OFFSET_S, fn_from_ln, ln_from_fn
from lodestarch.method.reading import Kind
from lodestarch.method.scatter import ScatterLaw

__all__ = ["LONGEST_GAP_H", "RESIDUE_SHARE", "VERY_LOW_S", "carry_over", "carry_over_shift_s"]

RESIDUE_SHARE: Final = 0.005
"""Share of the previous sample in the next one that the illustration takes [1]. An assumption of ours, no
measurement: 1.5 g in 300 g. A mill's own residue is found by grinding a sound sample after a sprouted one."""

VERY_LOW_S: Final = 100.0
"""From here down a sample is looked at like one at the floor [s]. A setting of ours: at 100 s half a per cent
left in the mill still moves a sample of 350 s by 8 s."""

LONGEST_GAP_H: Final = 8.0
"""After a longer pause the mill is taken to have been cleaned between shifts [h]. Common practice."""


def carry_over_shift_s(fn_s: FloatArray, previous_s: FloatArray, share: float = RESIDUE_SHARE) -> FloatArray:
    """How much lower a sample reads for a share of the previous one in it; an illustration.

    Parameters
    ----------
    fn_s : ndarray
        What the sample reads with the residue in it. [s]  Above 50.
    previous_s : ndarray
        What the previous sample reads; a bound where it is at the floor. [s]  Above 50.
    share : float
        Part by mass of the previous sample. [1]  Legal 0 to below 1.

    Returns
    -------
    ndarray
        Seconds by which it would read higher without the residue; 0 where the residue reads no lower than the
        sample; infinite where the residue alone would explain all of the sample's liquefaction number. [s]

    Notes
    -----
    LN = (1 - w) LN_clean + w LN_previous, so LN_clean = (LN - w LN_previous)/(1 - w), by the law that
    liquefaction numbers add by mass. For a previous sample at the floor LN_previous is a least value, and so
    is the shift.

    Examples
    --------
    >>> carry_over_shift_s(np.array([300.0, 150.0]), np.array([62.0, 62.0])).round(1)
    array([27.7,  3.8])
    """
    ln, ln_previous = ln_from_fn(fn_s), ln_from_fn(previous_s)
    clean = np.maximum((ln - share * ln_previous) / (1.0 - share), 0.0)
    return np.maximum(fn_from_ln(clean) - fn_s, 0.0)


def _mill_order(results: pl.DataFrame, samples: pl.DataFrame) -> pl.DataFrame:
    """Samples in the order in which each mill ground them, with the one before beside each."""
    before = ["ticket", "sample", "seconds", "kind", "ground_at"]
    return (
        samples.filter(pl.col("ground_at").is_not_null())
        .join(results.select("sample", "seconds", "kind"), on="sample", how="left", suffix="_result")
        .rename({"kind_result": "result_kind", "kind": "sample_kind"})
        .rename({"result_kind": "kind"})
        # A sheet that names no mill is taken as one mill: a miss costs more than a look.
        .sort(pl.col("mill_id").fill_null(""), "ground_at", "row", maintain_order=True)
        .with_columns(
            pl.col(c).shift(1).over(pl.col("mill_id").fill_null("")).alias(f"previous_{c}") for c in before
        )
    )


def carry_over(
    results: pl.DataFrame, samples: pl.DataFrame, scatter: ScatterLaw, *, source: str | None = None
) -> tuple[Finding, ...]:
    """Find samples ground straight after one at the floor or very low on the same mill.

    Parameters
    ----------
    results : polars.DataFrame
        In ``method.table.RESULTS``.
    samples : polars.DataFrame
        In ``method.table.SAMPLES``; ``ground_at`` and ``mill_id`` give the order of grinding.
    scatter : ScatterLaw
        What one tube's reading varies by.
    source : str or None
        Name of the sample sheet.

    Returns
    -------
    tuple of Finding
        ``mill-carry-over`` (check) at the later sample, in the order of the sheet. Left out: a sample that is
        itself at the floor, one stopped early, and one that the residue of the illustration would move by
        less than the scatter of a single tube.

    Notes
    -----
    ``shift_s`` is an illustration for ``residue_pct``, never a correction of the result.
    """
    order = _mill_order(results, samples)
    gap = pl.col("ground_at") - pl.col("previous_ground_at")
    suspect = order.with_columns((gap.dt.total_seconds() / 60.0).alias("gap_min")).filter(
        (pl.col("previous_kind") == Kind.AT_OR_BELOW)
        | ((pl.col("previous_kind") == Kind.EXACT) & (pl.col("previous_seconds") <= VERY_LOW_S)),
        pl.col("kind") == Kind.EXACT,
        pl.col("seconds") > LN_OFFSET_S,
        pl.col("previous_seconds") > LN_OFFSET_S,
        pl.col("gap_min") <= LONGEST_GAP_H * 60.0,
    )
    if suspect.is_empty():
        return ()
    seconds = suspect["seconds"].to_numpy()
    shift = carry_over_shift_s(seconds, suspect["previous_seconds"].to_numpy())
    suspect = suspect.with_columns(pl.Series("shift_s", shift)).filter(
        pl.Series(shift >= scatter.sd_s(seconds))
    )
    return tuple(
        Finding(
            "mill-carry-over",
            Where(source=source, row=r["row"], field="ground_at", ticket=r["ticket"], sample=r["sample"]),
            Severity.CHECK,
            {
                "previous_ticket": r["previous_ticket"],
                "previous_sample": r["previous_sample"],
                "previous_seconds": r["previous_seconds"],
                "previous_kind": Kind(r["previous_kind"]).name.lower().replace("_", "-"),
                "mill_id": r["mill_id"],
                "seconds": r["seconds"],
                "residue_pct": 100.0 * RESIDUE_SHARE,
                # Where the residue could explain the whole reading there is no finite figure to show.
                "shift_s": round(r["shift_s"], 1) if np.isfinite(r["shift_s"]) else None,
                "gap_min": round(r["gap_min"], 1),
            },
        )
        for r in suspect.sort("row").iter_rows(named=True)
    )
