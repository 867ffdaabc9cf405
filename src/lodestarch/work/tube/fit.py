"""The model fitted to a lab's own runs."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Final

from lodestarch.common.errors import NoAnswer
from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.method.scatter import DEFAULT_SCATTER, ScatterLaw
from lodestarch.sheets.tube_runs import TubeRuns, read_tube_runs
from lodestarch.tube.calibration.fit import Fit, fit
from lodestarch.tube.calibration.observations import usable
from lodestarch.tube.calibration.posterior import Posterior, posterior
from lodestarch.tube.calibration.problem import FITTABLE, Problem
from lodestarch.tube.calibration.published import published
from lodestarch.tube.parameters import LUMPED, ParameterSet

__all__ = ["FitAnswer", "fit_tube"]

_WALK: Final = (30, 100_000)


@dataclass(frozen=True, slots=True)
class FitAnswer:
    """A fit.

    Parameters
    ----------
    runs : TubeRuns
        As read.
    used : int
        Readings that entered, published figures included.
    published : int
        Of these, published figures.
    fit : Fit or None
        ``None`` where a finding says why not.
    posterior : Posterior or None
        ``None`` where not asked for.
    findings : tuple of Finding
    """

    runs: TubeRuns
    used: int
    published: int
    fit: Fit | None
    posterior: Posterior | None
    findings: tuple[Finding, ...]


def fit_tube(
    data: bytes,
    file_name: str,
    params: ParameterSet,
    *,
    name: str,
    keys: tuple[str, ...] = LUMPED,
    with_published: bool = False,
    scatter: ScatterLaw = DEFAULT_SCATTER,
    walk_steps: int | None = None,
    rng: Any,
) -> FitAnswer:
    """Fit a set of constants to runs.

    Parameters
    ----------
    data : bytes
        The runs (``sheets.tube_runs``).
    file_name : str
        For findings, and as source of what moves.
    params : ParameterSet
        Where the fit starts, and what stays.
    name : str
        Name of the fitted set.
    keys : tuple of str
        Constants that move.
    with_published : bool
        Fit the published figures along, with their assumed uncertainties.
    scatter : ScatterLaw
        Uncertainty of readings that state none.
    walk_steps : int or None
        Steps of the posterior's walk, 30 to 100 000; ``None`` leaves it out.
    rng : numpy.random.Generator
        Source of chance for the posterior; named ``Any`` because no array is made in this room.

    Returns
    -------
    FitAnswer
        Beside what the calibration finds: ``tube-fit-key-unknown``, ``tube-fit-walk`` (stop).
    """
    runs = read_tube_runs(data, file_name, scatter)
    found = [*runs.findings]
    unknown = [key for key in keys if key not in FITTABLE]
    if unknown:
        told: dict[str, Value] = {"constant": unknown[0], "known": ", ".join(FITTABLE)}
        found.append(Finding("tube-fit-key-unknown", Where(field="move"), Severity.STOP, told))
    if walk_steps is not None and not _WALK[0] <= walk_steps <= _WALK[1]:
        told = {"steps": walk_steps, "low": _WALK[0], "high": _WALK[1]}
        found.append(Finding("tube-fit-walk", Where(field="steps"), Severity.STOP, told))
    observations, lots = runs.observations, runs.lots
    extra = published(params) if with_published else None
    if extra is not None:
        taken = {lot.name for lot in lots}
        # A published lot keeps its name unless the lab has one of the same.
        renamed = {
            lot.name: f"{lot.name} (published)" if lot.name in taken else lot.name for lot in extra.lots
        }
        lots = (*lots, *(replace(lot, name=renamed[lot.name]) for lot in extra.lots))
        observations = (*observations, *(replace(o, lot=renamed[o.lot]) for o in extra.observations))
    kept, more = usable(observations, lots, params)
    found += more
    known = len(extra.observations) if extra is not None else 0
    empty = FitAnswer(runs, len(kept), known, None, None, tuple(found))
    if unknown or (walk_steps is not None and not _WALK[0] <= walk_steps <= _WALK[1]):
        return empty
    try:
        problem = Problem(params, keys, lots, kept)
    except NoAnswer as none:
        missing = Finding(none.code, Where(source=file_name), Severity.STOP, none.values)
        return replace(empty, findings=(*found, missing))
    made = fit(problem, name, source=file_name)
    walked = None
    if walk_steps is not None:
        walkers = max(40, 4 * (len(problem.names) + len(problem.names) % 2))
        walked = posterior(problem, rng, centre=made.theta, walkers=walkers, steps=walk_steps)
    found += [*made.findings, *(walked.findings if walked else ())]
    return FitAnswer(runs, len(kept), known, made, walked, tuple(found))
