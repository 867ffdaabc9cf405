"""Odds that a first result gave, beside what a second one found: on a retest here, or at another lab."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.decide.belief import Results
from lodestarch.decide.deciding_lab import DecidingLab
from lodestarch.decide.limits import Limits
from lodestarch.decide.odds import odds
from lodestarch.method.reading import Kind
from lodestarch.season.odds_record import OddsRecord, judge_odds

__all__ = ["HERE", "OddsTold", "Outcome", "ToldRecord", "judge_told", "told_by_first"]

HERE = "here"
"""Name of the lab's own bench among those that tested again."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """One lot that was tested a second time.

    Parameters
    ----------
    sample : str
    limit_s : float
        Floor that it was held against. [s]
    found_s : float
        What the second test found, and its kind. [s]
    kind : Kind
    lab : str
        :data:`HERE`, or the other lab's name.
    odds : float or None
        Odds told beforehand. [1]
    first_s, u_s : float or None
        First result with its standard uncertainty, where odds were not noted. [s]
    lab_sd_s : float or None
        Standard deviation of one report of the other lab about the true value. [s]
    row : int or None
        Of the sheet.
    """

    sample: str
    limit_s: float
    found_s: float
    kind: Kind = Kind.EXACT
    lab: str = HERE
    odds: float | None = None
    first_s: float | None = None
    u_s: float | None = None
    lab_sd_s: float | None = None
    row: int | None = None


@dataclass(frozen=True, slots=True)
class OddsTold:
    """One lot: the odds, and whether the second test met the limit."""

    sample: str
    lab: str
    limit_s: float
    odds: float
    found_s: float
    met: bool
    noted: bool
    """Odds were noted when they were told; otherwise they are what the first result gives by today's rule."""


@dataclass(frozen=True, slots=True)
class ToldRecord:
    """All lots that were tested again, and how their odds did: here and at other labs apart."""

    lines: tuple[OddsTold, ...]
    here: OddsRecord
    elsewhere: OddsRecord
    findings: tuple[Finding, ...]


def told_by_first(one: Outcome) -> float | None:
    """Odds that the first result gives for the second test; ``None`` where too little is known.

    Examples
    --------
    >>> round(told_by_first(Outcome("8814", 300.0, 296.0, first_s=310.0, u_s=9.0)), 3)
    0.784
    """
    if one.first_s is None or one.u_s is None or not one.u_s > 0.0:
        return None
    results, limits = Results.of(one.first_s, one.u_s), Limits(one.limit_s)
    if one.lab == HERE:
        return float(odds(results, limits).p_same_lab.p[0])
    if one.lab_sd_s is None or not one.lab_sd_s >= 0.0:
        return None
    other = odds(results, limits, deciding=DecidingLab(one.lab_sd_s)).p_other_lab
    return None if other is None else float(other.p[0])


def judge_told(outcomes: Sequence[Outcome], source: str = "") -> ToldRecord:
    """Hold odds against what came.

    Parameters
    ----------
    outcomes : sequence of Outcome
    source : str
        For findings.

    Returns
    -------
    ToldRecord
        With ``season-odds-untold`` (neither odds nor enough to compute them), ``season-odds-open`` (the
        second result only bounds and does not say), and what :func:`season.odds_record.judge_odds` finds.
    """
    found: list[Finding] = []
    lines: list[OddsTold] = []
    untold = still_open = 0
    for one in outcomes:
        met = _met(one)
        told = one.odds if one.odds is not None else told_by_first(one)
        if met is None:
            still_open += 1
        elif told is None or not np.isfinite(told):
            untold += 1
        else:
            noted = one.odds is not None
            lines.append(OddsTold(one.sample, one.lab, one.limit_s, told, one.found_s, met, noted))
    where = Where(source=source or None)
    if untold:
        found.append(Finding("season-odds-untold", where, Severity.CHECK, {"count": untold}))
    if still_open:
        found.append(Finding("season-odds-open", where, Severity.NOTE, {"count": still_open}))
    here = judge_odds(*_columns([x for x in lines if x.lab == HERE]))
    away = judge_odds(*_columns([x for x in lines if x.lab != HERE]))
    judged = [f for r in (here, away) for f in r.findings if r.count or f.code != "season-odds-few"]
    if not lines:
        judged = [*here.findings]
    placed = [replace(f, where=where) for f in judged]
    return ToldRecord(tuple(lines), here, away, (*found, *placed))


def _columns(lines: Sequence[OddsTold]) -> tuple[list[float], list[bool]]:
    return [x.odds for x in lines], [x.met for x in lines]


def _met(one: Outcome) -> bool | None:
    """Whether the second test met the limit; a bound on the wrong side of it does not say."""
    if one.kind is Kind.ABOVE:
        return True if one.found_s >= one.limit_s else None
    if one.kind is Kind.AT_OR_BELOW and one.found_s >= one.limit_s:
        return None
    return one.found_s >= one.limit_s
