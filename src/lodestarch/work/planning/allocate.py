"""A plan problem, or an instance of the neutral layout, from its file to its answer."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from lodestarch.common.findings import Finding, in_order
from lodestarch.plan.allocate.answer import Allocation, allocate
from lodestarch.plan.allocate.plan import PlanSettings
from lodestarch.plan.neutral import NeutralAnswer, answer_neutral
from lodestarch.sheets.neutral import ReadNeutral, read_neutral
from lodestarch.sheets.plan_problem import read_plan_problem

__all__ = ["TRIALS", "InstanceOutcome", "ProblemOutcome", "instance_for", "problem_for"]

TRIALS: Final = 4000
"""Trials of the simulation: odds near 0.95 then have a standard error of 0.003."""


@dataclass(frozen=True, slots=True)
class ProblemOutcome:
    """A problem and its answer; ``answer`` is ``None`` where the file could not be put."""

    answer: Allocation | None
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class InstanceOutcome:
    """An instance and its answer; ``answer`` is ``None`` where it could not be put."""

    read: ReadNeutral
    answer: NeutralAnswer | None
    findings: tuple[Finding, ...]


def problem_for(
    data: bytes,
    name: str,
    *,
    rng: Any,
    gap: float = 1e-6,
    time_s: float = 30.0,
    beside: bool = True,
    trials: int = TRIALS,
) -> ProblemOutcome:
    """Allocate by the problem in a file.

    Parameters
    ----------
    data : bytes
        TOML; the schema is in ``docs/plan.md``.
    name : str
        File name, for findings.
    rng : numpy.random.Generator
        Source of chance for the simulation; named ``Any`` because no array is made in this room.
    gap : float
        Relative gap to prove. [1]
    time_s : float
        Time in the solver for each plan. [s]
    beside : bool
        Solve for one more tonne, one second and one bin fewer as well.
    trials : int
        Of the simulation.
    """
    read = read_plan_problem(data, name)
    if read.problem is None:
        return ProblemOutcome(None, in_order(read.findings))
    answer = allocate(read.problem, rng, PlanSettings(gap, time_s), beside=beside, trials=trials)
    return ProblemOutcome(answer, in_order((*read.findings, *answer.findings)))


def instance_for(
    data: bytes, name: str, instance: str, variant: str | None, *, gap: float = 1e-6, time_s: float = 30.0
) -> InstanceOutcome:
    """Answer one instance of a file of the neutral layout.

    Parameters
    ----------
    data : bytes
        JSON.
    name : str
        File name, for findings.
    instance : str
    variant : str or None
        The first where none is named.
    gap : float
        Relative gap to prove. [1]
    time_s : float
        Time in the solver. [s]
    """
    read = read_neutral(data, name, instance, variant)
    if read.asked is None:
        return InstanceOutcome(read, None, in_order(read.findings))
    answer = answer_neutral(read.asked, PlanSettings(gap, time_s))
    return InstanceOutcome(read, answer, in_order((*read.findings, *answer.findings)))
