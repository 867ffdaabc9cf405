"""One tube from lowering to the end of the fall."""

from __future__ import annotations

from dataclasses import dataclass

from lodestarch.common.findings import Finding
from lodestarch.tube.history import TubeHistory, run
from lodestarch.tube.landmarks import Landmarks, landmarks
from lodestarch.tube.parameters import ParameterSet
from lodestarch.tube.standing import Limit
from lodestarch.tube.trust import limits_of
from lodestarch.work.tube.asked import TubeAsked, state

__all__ = ["TubeAnswer", "run_tube"]


@dataclass(frozen=True, slots=True)
class TubeAnswer:
    """What one tube is computed to read, and how.

    Parameters
    ----------
    asked : TubeAsked
        As stated.
    params : ParameterSet or None
        Constants; ``None`` where the set is not known.
    elevation_m : float or None
        Where stated.
    history : TubeHistory or None
        ``None`` where a finding says why not.
    marks : Landmarks or None
        Moments of it.
    findings : tuple of Finding
    limits : tuple of Limit
        What the answer does not know.
    """

    asked: TubeAsked
    params: ParameterSet | None
    elevation_m: float | None
    history: TubeHistory | None
    marks: Landmarks | None
    findings: tuple[Finding, ...]
    limits: tuple[Limit, ...]


def run_tube(asked: TubeAsked, *, step_s: float = 0.5, until_s: float = 900.0) -> TubeAnswer:
    """Run one tube.

    Parameters
    ----------
    asked : TubeAsked
        The tube as stated.
    step_s : float
        Longest step between rows of its history. [s]  Legal 0.02 to 5.
    until_s : float
        Longest history kept; the reading is always found. [s]  Legal 70 to 7200.
    """
    stated = state(asked)
    if stated.inputs is None or stated.params is None:
        limits = limits_of(None, stated.params) if stated.params else ()
        return TubeAnswer(asked, stated.params, stated.elevation_m, None, None, stated.findings, limits)
    out = run(stated.inputs, stated.params, step_s=step_s, until_s=until_s)
    marks = landmarks(out.history) if out.history is not None else None
    found = (*stated.findings, *out.findings)
    return TubeAnswer(asked, stated.params, stated.elevation_m, out.history, marks, found, out.limits)
