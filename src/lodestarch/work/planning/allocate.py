"""A plan problem, or an instance of the neutral layout, from its file to its answer."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any, Final

from lodestarch.common.findings import Finding, Severity, in_order
from lodestarch.plan.allocate.answer import Allocation, allocate
from lodestarch.plan.allocate.from_terms import with_terms
from lodestarch.plan.allocate.own_blends import OwnBlends, with_own_blends
from lodestarch.plan.allocate.plan import PlanSettings
from lodestarch.plan.allocate.problem import PlanProblem
from lodestarch.plan.neutral import NeutralAnswer, answer_neutral
from lodestarch.season.blends import compare_blends
from lodestarch.sheets.blend_sheet import read_blends
from lodestarch.sheets.neutral import ReadNeutral, read_neutral
from lodestarch.sheets.plan_problem import read_plan_problem
from lodestarch.sheets.terms import ReadTerms

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
    terms: ReadTerms | None = None,
    on: date | None = None,
    wanted_odds: float | None = None,
    blends: tuple[bytes, str] | None = None,
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
    terms : ReadTerms or None
        Its contracts and bids that stand on ``on`` are added to those of the problem.
    on : date or None
        ``None``: the day of the terms.
    wanted_odds : float or None
        For the offers of the terms, which do not state them. [1]
    blends : tuple of bytes and str or None
        Own blends and the name of their file: their spread and bias are the margin.
    """
    read = read_plan_problem(data, name)
    problem, findings = read.problem, list(read.findings)
    if problem is not None and blends is not None:
        problem, told = _with_blends(problem, *blends)
        findings += told
    if problem is not None and terms is not None:
        findings += terms.findings
        problem, told = _with_terms(problem, terms, on, wanted_odds)
        findings += told
    if problem is None:
        return ProblemOutcome(None, in_order(findings))
    answer = allocate(problem, rng, PlanSettings(gap, time_s), beside=beside, trials=trials)
    return ProblemOutcome(answer, in_order((*findings, *answer.findings)))


def _with_terms(
    problem: PlanProblem, read: ReadTerms, on: date | None, wanted_odds: float | None
) -> tuple[PlanProblem | None, tuple[Finding, ...]]:
    """The problem with the offers of terms; ``None`` where one of them stops the plan."""
    if read.terms is None:
        return None, ()
    joined, told = with_terms(problem, read.terms, on or read.terms.as_of, wanted_odds)
    stopped = any(f.severity is Severity.STOP for f in told)
    return (None if stopped else joined), told


def _with_blends(problem: PlanProblem, data: bytes, name: str) -> tuple[PlanProblem, tuple[Finding, ...]]:
    """The problem with the margin of own blends, where there are enough of them."""
    read = read_blends(data, name)
    record = compare_blends(read.blends, cap_s=problem.cap_s, source=name)
    own = OwnBlends(record.compared, record.sd_s, record.bias_s, record.chance)
    joined, told = with_own_blends(problem, own)
    return joined, (*read.findings, *record.findings, *told)


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
