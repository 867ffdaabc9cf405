"""What check samples say beyond the tubes: how the bench moves from one check to the next.

The tubes of one check share its grind, its bath and its hour. Check results of one material scatter by all of
these, so what is left after the scatter of the tubes is the bench's own movement. Whole grain is ground here
and tests mill and bath; meal tests the bath alone; so the difference of the two speaks for the grinding.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import polars as pl

from lodestarch.method.reading import Kind
from lodestarch.method.scatter import ScatterLaw

__all__ = ["LEAST_DOF", "BenchSpread", "CheckSpread", "bench_spread", "check_spread"]

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
    noise : float
        Square of the whole relative variance over its degrees of freedom: half the variance of ``cv**2``. [1]
    """

    cv: float
    dof: float
    checks: int
    materials: int
    noise: float = 0.0


@dataclass(frozen=True, slots=True)
class BenchSpread:
    """Spread of the bench, by what the checks were made of.

    Parameters
    ----------
    meal : CheckSpread or None
        From meal: the bath alone. ``None``: too few checks on meal.
    grain : CheckSpread or None
        From whole grain: mill and bath together.
    """

    meal: CheckSpread | None
    grain: CheckSpread | None

    @property
    def grinding_cv(self) -> float | None:
        """Grinding alone, a share of the level: grain less meal, not below 0; ``None`` without both. [1]"""
        if self.meal is None or self.grain is None:
            return None
        return float(np.sqrt(max(0.0, self.grain.cv**2 - self.meal.cv**2)))

    @property
    def grinding_dof(self) -> float:
        """Degrees of freedom of the difference (Welch-Satterthwaite, ours for a difference; at least 1)."""
        own = self.grinding_cv
        if own is None or self.meal is None or self.grain is None:
            return 0.0
        noise = self.meal.noise + self.grain.noise
        if own == 0.0 or noise == 0.0:
            return min(self.meal.dof, self.grain.dof)
        return max(1.0, own**4 / noise)

    @property
    def cv(self) -> float:
        """Everything that checks show of what a result goes through here. [1]"""
        meal, grain = (0.0 if s is None else s.cv for s in (self.meal, self.grain))
        return max(meal, grain)

    @property
    def checks(self) -> int:
        """Checks on which it rests."""
        return sum(s.checks for s in (self.meal, self.grain) if s is not None)


def bench_spread(outcomes: pl.DataFrame, law: ScatterLaw) -> BenchSpread | None:
    """Find the spread between checks, whole grain and meal apart.

    Parameters
    ----------
    outcomes : polars.DataFrame
        In ``control.check_outcomes.CHECK_OUTCOMES``. A material is whole grain where any of its checks names
        a mill, else meal.
    law : ScatterLaw
        Scatter of one tube.

    Returns
    -------
    BenchSpread or None
        ``None`` where neither has enough checks.
    """
    ground = pl.col("mill_id").is_not_null().any().over("material")
    meal, grain = (check_spread(outcomes.filter(part), law) for part in (~ground, ground))
    return None if meal is None and grain is None else BenchSpread(meal, grain)


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
    return CheckSpread(float(np.sqrt(between)), dof, own.height, materials, whole**2 / left)
