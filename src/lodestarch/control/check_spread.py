"""What check samples say beyond the tubes: how the bench moves from one check to the next.

The tubes of one check share its grind, its bath and its hour. Check results of one material scatter by all of
these, so what is left after the scatter of the tubes is the bench's own movement.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import polars as pl

from lodestarch.method.reading import Kind
from lodestarch.method.scatter import ScatterLaw

__all__ = ["LEAST_DOF", "CheckSpread", "check_spread"]

LEAST_DOF: Final = 4
"""Degrees of freedom (checks less materials) from which the figure is given; a choice of ours. With fewer the
figure would swing by half and more from one check to the next."""


@dataclass(frozen=True, slots=True)
class CheckSpread:
    """Spread of the bench from check to check.

    Parameters
    ----------
    cv : float
        SD between checks beyond the scatter of the tubes, as a share of the level; 0 where the checks scatter
        no more than their tubes. [1]
    dof : float
        Effective degrees of freedom. [1]
    checks, materials : int
        That it rests on.
    """

    cv: float
    dof: float
    checks: int
    materials: int


def check_spread(outcomes: pl.DataFrame, law: ScatterLaw) -> CheckSpread | None:
    """Find the spread between checks.

    Parameters
    ----------
    outcomes : polars.DataFrame
        In ``control.check_outcomes.CHECK_OUTCOMES``; exact results count, good or off alike, so that a bench
        which fails its checks is not made to look calm. Unsettled ones are left out.
    law : ScatterLaw
        Scatter of one tube.

    Returns
    -------
    CheckSpread or None
        ``None`` with fewer than ``LEAST_DOF`` degrees of freedom.

    Notes
    -----
    Relative results r = mean/mean of its material vary by s_b^2 + s_t^2/n. The pooled variance of r over
    materials has N - M degrees of freedom; s_b^2 is what is left after the tubes' part, not below 0, and its
    degrees of freedom by Welch and Satterthwaite with the tubes' part known (GUM G.4.1, ours for a
    difference; not below 1). A share of the level serves all materials alike.
    """
    usable = outcomes.filter(
        pl.col("kind") == Kind.EXACT.value, pl.col("outcome") != "unsettled", pl.col("mean_s").is_not_null()
    )
    own = usable.with_columns(pl.len().over("material").alias("n")).filter(pl.col("n") > 1)
    materials = own["material"].n_unique()
    left = own.height - materials
    if left < LEAST_DOF:
        return None
    level = own.select(pl.col("mean_s").mean().over("material")).to_series().to_numpy()
    r = own["mean_s"].to_numpy() / level - 1.0
    whole = float((r**2).sum() / left)
    tubes = float(np.mean((np.asarray(law.sd_s(level)) / level) ** 2 / own["tubes"].to_numpy()))
    between = max(0.0, whole - tubes)
    dof = max(1.0, between**2 / (whole**2 / left)) if between > 0.0 else float(left)
    return CheckSpread(float(np.sqrt(between)), dof, own.height, materials)
