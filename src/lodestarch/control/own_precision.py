"""How sure a lab's results are, from its own pairs and check samples: law, u of results, budget."""

from __future__ import annotations

from dataclasses import dataclass, replace

import polars as pl

from lodestarch.common.findings import Finding, Severity
from lodestarch.common.provenance import Provenance
from lodestarch.control.check_spread import BenchSpread, CheckSpread, bench_spread
from lodestarch.control.own_pairs import of_method, pairs_of
from lodestarch.method.reading import Kind
from lodestarch.method.scatter import DEFAULT_SCATTER, ScatterLaw
from lodestarch.precision.budget import Budget, budget_of
from lodestarch.precision.contribution import Contribution, from_law, not_evaluated, tube_line, variance_line
from lodestarch.precision.scatter_fit import fit_pairs
from lodestarch.precision.scatter_result import ScatterFit

__all__ = ["OwnPrecision", "budget_at", "own_precision", "typical_level", "with_own_u"]

_OPEN = ("sampling", "moisture", "weighing", "water", "pressure", "place")
"""Lines that pairs and check samples say nothing of."""


@dataclass(frozen=True, slots=True)
class OwnPrecision:
    """What a lab's own data say of the scatter of its results.

    Parameters
    ----------
    law : ScatterLaw
        Scatter of one tube: fitted, or the stated default without pairs.
    fit : ScatterFit or None
        ``None``: no pair of the lab's own.
    spread : BenchSpread or None
        Bench from check to check; ``None``: too few check samples.
    kept, brought : int
        Pairs from the records and from a file.
    others : tuple of (str, int)
        Methods of kept pairs that are another one and were left out, with their number.
    """

    law: ScatterLaw
    fit: ScatterFit | None
    spread: BenchSpread | None
    kept: int
    brought: int
    others: tuple[tuple[str, int], ...] = ()

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What is to be known of the pairs as a whole; single rows were named when they were read."""
        fitted = () if self.fit is None else tuple(f for f in self.fit.findings if f.where.row is None)
        if not self.others:
            return fitted
        named = tuple(name for name, _ in self.others if name)
        code = "pairs-of-other-methods" if named else "pairs-of-no-method"
        pairs, methods = sum(n for _, n in self.others), "; ".join(named)
        said = Finding(code, severity=Severity.NOTE, values={"pairs": pairs, "methods": methods})
        return (*fitted, said)

    @property
    def prior_weight(self) -> float:
        """Share of the stated default in the scatter. [1]"""
        return 1.0 if self.fit is None else self.fit.prior_weight


def own_precision(
    kept: pl.DataFrame, brought: pl.DataFrame, checks: pl.DataFrame, *, method: str
) -> OwnPrecision:
    """Fit what there is of one method.

    Parameters
    ----------
    kept : polars.DataFrame
        Earlier pairs, in ``control.own_pairs.KEPT_PAIRS``; those of another method are left out and counted.
    brought : polars.DataFrame
        Pairs from a file, in ``control.own_pairs.OWN_PAIRS``: who brings them says that they are of this
        method.
    checks : polars.DataFrame
        Check samples, in ``control.check_outcomes.CHECK_OUTCOMES``.
    method : str
        ``Profile.comparable_key`` of the results whose u is asked for.
    """
    mine, others = of_method(kept, method)
    pairs = pl.concat([mine, brought])
    # Without pairs nothing is fitted: the default is what it says it is.
    fit = fit_pairs(pairs_of(pairs)) if pairs.height else None
    law = DEFAULT_SCATTER if fit is None or fit.used == 0 else fit.law
    return OwnPrecision(law, fit, bench_spread(checks, law), mine.height, brought.height, others)


def typical_level(results: pl.DataFrame) -> float | None:
    """Return the median of a day's exact results of two tubes that stand; ``None`` without any. [s]"""
    exact = results.filter(
        pl.col("kind") == Kind.EXACT.value, pl.col("tubes") == 2, pl.col("u_s").is_not_null()
    )
    median = exact["mean_s"].median()
    return float(median) if isinstance(median, (int, float)) else None


def with_own_u(results: pl.DataFrame, own: OwnPrecision) -> pl.DataFrame:
    """Add the bench's own movement to the u of results that were judged under the fitted law.

    Parameters
    ----------
    results : polars.DataFrame
        In ``method.table.RESULTS``.
    own : OwnPrecision
    """
    if own.spread is None or own.spread.cv == 0.0:
        return results
    cv = own.spread.cv
    return results.with_columns(
        (pl.col(u) ** 2 + (cv * pl.col(level)) ** 2).sqrt().alias(u)
        for u, level in (("u_s", "mean_s"), ("estimate_u_s", "estimate_s"))
    )


def budget_at(own: OwnPrecision, level_s: float, tubes: int = 2) -> Budget:
    """Budget of one result at a level.

    Parameters
    ----------
    own : OwnPrecision
    level_s : float
        Mean of the readings. [s]  Legal 60 to 900.
    tubes : int

    Notes
    -----
    The line of the tubes has the u of the frozen law, which the results carry, and the degrees of freedom of
    the whole fit.
    """
    tube = from_law(own.law, level_s, tubes)
    if own.fit is not None and own.fit.used:
        tube = replace(tube_line(own.fit, level_s, tubes), u_s=tube.u_s)
    return budget_of(level_s, [tube, *_bench_lines(own, level_s), *(not_evaluated(key) for key in _OPEN)])


def _bench_lines(own: OwnPrecision, level_s: float) -> tuple[Contribution, ...]:
    """Bath, and grinding where both kinds of check are there; mill and bath in one line from grain alone."""
    spread = own.spread
    if spread is None:
        return not_evaluated("bench"), not_evaluated("grinding")
    if spread.meal is None and spread.grain is not None:
        return (_check_line("bench", spread.grain.cv, spread.grain.dof, level_s),)
    bath = spread.meal if spread.meal is not None else CheckSpread(0.0, 1.0, 0, 0)
    line = _check_line("bench", bath.cv, bath.dof, level_s)
    if spread.grinding_cv is None:
        return line, not_evaluated("grinding")
    return line, _check_line("grinding", spread.grinding_cv, spread.grinding_dof, level_s)


def _check_line(key: str, cv: float, dof: float, level_s: float) -> Contribution:
    line = variance_line(key, cv * level_s, 1.0, dof=dof, provenance=Provenance.MEASURED_HERE)
    return replace(line, source="own-data")
