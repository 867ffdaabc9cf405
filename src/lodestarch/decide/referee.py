"""Two labs differ: by more than they should, run alike, and what the agreed rule makes of a third result."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from lodestarch.common.errors import NoAnswer, OutOfRange
from lodestarch.common.findings import Finding, Severity, Value, Where

__all__ = [
    "LIMIT_FACTOR",
    "HowRun",
    "LabResult",
    "Party",
    "PaysRule",
    "Referee",
    "RefereeRule",
    "Verdict",
    "critical_difference",
    "referee",
    "unlike",
]

LIMIT_FACTOR: Final = 1.959963984540054 * math.sqrt(2.0)
"""Reproducibility limit over reproducibility standard deviation. [1]  Derived: 95 % of differences of two
normal results lie within 1.96 sqrt(2) of them; ISO 5725-6 prints 2.8 (recalled)."""


class RefereeRule(StrEnum):
    """What the parties agreed becomes of a third result."""

    REFEREE_FINAL = "referee-final"
    """The third alone."""
    MEAN_OF_THREE = "mean-of-three"
    MEDIAN = "median"
    MEAN_WITH_NEARER = "mean-with-nearer"
    """The mean of the third and the nearer of the two."""


class Party(StrEnum):
    """Whose lab, or who pays."""

    FIRST = "first"
    SECOND = "second"
    BOTH = "both"


class PaysRule(StrEnum):
    """Who was agreed to pay the third test."""

    LOSER = "loser"
    """The side that lies farther from it; both where they lie equally far."""
    SHARED = "shared"
    FIRST = "first"
    SECOND = "second"


class Verdict(StrEnum):
    """How two results stand to each other."""

    AGREE = "agree"
    DIFFER = "differ"
    NOT_COMPARABLE = "not-comparable"


@dataclass(frozen=True, slots=True)
class HowRun:
    """How a result was run; ``None``: not stated.

    Parameters
    ----------
    basis : str or None
        Moisture basis: ``"14"`` (per cent), ``"as-is"``.
    tubes : int or None
    corrected : str or None
        For pressure: ``none``, ``by-instrument``, ``by-lab``.
    place_hpa : float or None
        Station pressure. [hPa]
    portion_g : float or None
        Base mass of the portion. [g]
    """

    basis: str | None = None
    tubes: int | None = None
    corrected: str | None = None
    place_hpa: float | None = None
    portion_g: float | None = None


@dataclass(frozen=True, slots=True)
class LabResult:
    """A lab's result with the number of independent determinations that it is the mean of."""

    value_s: float
    how: HowRun = HowRun()
    determinations: int = 1


@dataclass(frozen=True, slots=True)
class Referee:
    """What the analysis says.

    Parameters
    ----------
    verdict : Verdict
    difference_s, critical_s : float
        First less second, and the largest difference that 95 of 100 pairs keep. [s]
    p_larger : float
        Chance that two labs that read alike differ by as much or more. [1]
    mean_s : float
        Of the two. [s]
    final_s : float or None
        The number by the rule; ``None`` while a third result is wanted or the two are not comparable. [s]
    needs_third : bool
    pays : Party or None
        Who pays the third test; ``None`` where none was made or needed.
    findings : tuple of Finding
        How the runs differ, and what is not stated.
    """

    verdict: Verdict
    difference_s: float
    critical_s: float
    p_larger: float
    mean_s: float
    final_s: float | None
    needs_third: bool
    pays: Party | None
    findings: tuple[Finding, ...]


def critical_difference(s_r_s: float, s_R_s: float, first: int = 1, second: int = 1) -> float:
    """Largest difference of two labs' means that 95 of 100 keep, if neither is wrong. [s]

    Parameters
    ----------
    s_r_s, s_R_s : float
        Repeatability and reproducibility standard deviations. [s]  s_R not below s_r, above 0.
    first, second : int
        Determinations in either mean.

    Notes
    -----
    1.96 sqrt(2 (s_R^2 - s_r^2) + s_r^2 (1/n_1 + 1/n_2)); with one each the reproducibility limit 2.77 s_R.
    Form as ISO 5725-6 (recalled).

    Examples
    --------
    >>> round(critical_difference(6.0, 10.0), 1), round(critical_difference(6.0, 10.0, 2, 2), 1)
    (27.7, 25.1)
    """
    if not (s_R_s > 0.0 and math.isfinite(s_R_s)):
        raise OutOfRange("s_R_s", s_R_s, 0.0, math.inf, "s")
    if not 0.0 <= s_r_s <= s_R_s:
        raise OutOfRange("s_r_s", s_r_s, 0.0, s_R_s, "s")
    if min(first, second) < 1:
        raise OutOfRange("determinations", min(first, second), 1, math.inf, "1")
    between = 2.0 * (s_R_s**2 - s_r_s**2)
    return LIMIT_FACTOR / math.sqrt(2.0) * math.sqrt(between + s_r_s**2 * (1.0 / first + 1.0 / second))


_APART: Final = ("basis", "portion_g")
"""Differences that make results not comparable; the others explain a difference and are told."""


def unlike(first: HowRun, second: HowRun) -> tuple[Finding, ...]:
    """Return how two runs differ, and what neither can be held against because it is not stated.

    Notes
    -----
    Basis and portion: ``referee-not-alike``, stop. Tubes: the same code, note. Correction: the same code,
    check; where both are uncorrected, stations more than 10 hPa apart are told as ``referee-pressures``.
    """
    out: list[Finding] = []
    for what in ("basis", "portion_g", "corrected", "tubes"):
        a, b = getattr(first, what), getattr(second, what)
        if a is None or b is None:
            if what != "portion_g":
                out.append(Finding("referee-not-stated", Where(field=what), Severity.CHECK, {"what": what}))
        elif a != b:
            grave = Severity.STOP if what in _APART else Severity.NOTE if what == "tubes" else Severity.CHECK
            values: dict[str, Value] = {"what": what, "first": str(a), "second": str(b)}
            out.append(Finding("referee-not-alike", Where(field=what), grave, values))
    a, b = first.place_hpa, second.place_hpa
    plain = first.corrected == second.corrected == "none"
    if plain and a is not None and b is not None and abs(a - b) > 10.0:
        both: dict[str, Value] = {"first_hpa": a, "second_hpa": b}
        out.append(Finding("referee-pressures", Where(field="pressure_hpa"), Severity.CHECK, both))
    return tuple(out)


def referee(
    first: LabResult, second: LabResult, s_r_s: float, s_R_s: float, *,
    third_s: float | None = None, rule: RefereeRule | None = None, paid_by: PaysRule = PaysRule.LOSER,
) -> Referee:  # fmt: skip
    """Judge two labs' results on one sample, with the retained sample's third where there is one.

    Parameters
    ----------
    first, second : LabResult
    s_r_s, s_R_s : float
        Repeatability and reproducibility standard deviations at their level. [s]
    third_s : float, optional
        Result of a third lab on the retained sample. [s]
    rule : RefereeRule, optional
        As agreed.
    paid_by : PaysRule
        As agreed: who pays the third test.

    Raises
    ------
    NoAnswer
        ``referee-rule-missing`` where a third result is there and no rule was agreed.

    Notes
    -----
    Within the critical difference both stand and their mean is final: a third test would decide by chance.
    Beyond it the rule decides. Where the loser pays it is the lab farther from the third, both where they are
    equally far (the losing party pays: Regulation (EU) 2016/1240, for intervention).
    """
    findings = unlike(first.how, second.how)
    apart = any(f.severity is Severity.STOP for f in findings)
    difference = first.value_s - second.value_s
    critical = critical_difference(s_r_s, s_R_s, first.determinations, second.determinations)
    p = math.erfc(abs(difference) * LIMIT_FACTOR / (2.0 * critical))
    mean = 0.5 * (first.value_s + second.value_s)
    if apart:
        return Referee(Verdict.NOT_COMPARABLE, difference, critical, p, mean, None, False, None, findings)
    if abs(difference) <= critical:
        return Referee(Verdict.AGREE, difference, critical, p, mean, mean, False, None, findings)
    if third_s is None:
        return Referee(Verdict.DIFFER, difference, critical, p, mean, None, True, None, findings)
    if rule is None:
        raise NoAnswer("referee-rule-missing")
    final = _final(rule, first.value_s, second.value_s, third_s)
    return Referee(
        Verdict.DIFFER, difference, critical, p, mean, final, False,
        _pays(paid_by, first.value_s, second.value_s, third_s), findings,
    )  # fmt: skip


def _final(rule: RefereeRule, a: float, b: float, third: float) -> float:
    if rule is RefereeRule.REFEREE_FINAL:
        return third
    if rule is RefereeRule.MEAN_OF_THREE:
        return (a + b + third) / 3.0
    if rule is RefereeRule.MEDIAN:
        return sorted((a, b, third))[1]
    if abs(a - third) == abs(b - third):
        return (a + b + third) / 3.0
    return 0.5 * (third + min((a, b), key=lambda v: abs(v - third)))


def _pays(paid_by: PaysRule, a: float, b: float, third: float) -> Party:
    if paid_by is not PaysRule.LOSER:
        return {PaysRule.FIRST: Party.FIRST, PaysRule.SECOND: Party.SECOND}.get(paid_by, Party.BOTH)
    far_a, far_b = abs(a - third), abs(b - third)
    if far_a == far_b:
        return Party.BOTH
    return Party.FIRST if far_a > far_b else Party.SECOND
