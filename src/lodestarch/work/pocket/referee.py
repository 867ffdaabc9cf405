"""Two labs' results as typed, held against each other, with a third where there is one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, TypeVar

from lodestarch.common.errors import NoAnswer, OutOfRange
from lodestarch.common.findings import Finding, Severity, Where, in_order, of_range
from lodestarch.decide.referee import HowRun, LabResult, PaysRule, Referee, RefereeRule, referee
from lodestarch.method.reading import Kind
from lodestarch.work.pocket.typed_results import read_results

__all__ = ["PAYS_RULES", "REFEREE_RULES", "RefereeAnswer", "RefereeAsked", "referee_for", "referee_json"]

REFEREE_RULES: Final = tuple(r.value for r in RefereeRule)
PAYS_RULES: Final = tuple(r.value for r in PaysRule)
_T = TypeVar("_T")


@dataclass(frozen=True, slots=True)
class RefereeAsked:
    """The question as typed. How each was run is given once for both, twice, or not at all."""

    results: tuple[str, ...]
    repeat_s: float
    between_s: float
    third: str | None = None
    rule: str | None = None
    basis: tuple[str, ...] = ()
    tubes: tuple[int, ...] = ()
    corrected: tuple[str, ...] = ()
    pressure_hpa: tuple[float, ...] = ()
    portion_g: tuple[float, ...] = ()
    paid_by: str = PaysRule.LOSER.value


@dataclass(frozen=True, slots=True)
class RefereeAnswer:
    """The analysis, or the findings that say why there is none."""

    analysis: Referee | None
    first_s: float | None
    second_s: float | None
    third_s: float | None
    findings: tuple[Finding, ...]


def referee_for(asked: RefereeAsked) -> RefereeAnswer:
    """Answer for typed results.

    Notes
    -----
    The repeatability standard deviation is of one result as it was typed; tubes are told apart only to say
    whether the two were run alike.
    """
    third = (asked.third,) if asked.third is not None else ()
    typed, found = read_results((*asked.results, *third))
    if len(asked.results) != 2:
        count = Finding(
            "referee-two-results", Where(field="result"), Severity.STOP, {"results": len(asked.results)}
        )
        return RefereeAnswer(None, None, None, None, (*found, count))
    censored = [
        Finding("retest-exact-only", Where(field="result"), Severity.STOP, {"value": t.text})
        for t in typed if t.kind is not Kind.EXACT
    ]  # fmt: skip
    counts = _counts(asked)
    found = (*found, *censored, *counts)
    if found:
        return RefereeAnswer(None, None, None, None, found)
    first, second = typed[0].value_s, typed[1].value_s
    third_s = typed[2].value_s if third else None
    hows = [
        HowRun(
            basis=_of(asked.basis, i), tubes=_of(asked.tubes, i), corrected=_of(asked.corrected, i),
            place_hpa=_of(asked.pressure_hpa, i), portion_g=_of(asked.portion_g, i),
        )
        for i in range(2)
    ]  # fmt: skip
    try:
        got = referee(
            LabResult(first, hows[0]), LabResult(second, hows[1]), asked.repeat_s, asked.between_s,
            third_s=third_s, rule=RefereeRule(asked.rule) if asked.rule is not None else None,
            paid_by=PaysRule(asked.paid_by),
        )  # fmt: skip
    except NoAnswer as cause:
        more = Finding(cause.code, Where(field="rule"), Severity.STOP, cause.values)
        return RefereeAnswer(None, first, second, third_s, (more,))
    except OutOfRange as cause:
        return RefereeAnswer(None, first, second, third_s, (of_range(cause, Where(field=cause.name)),))
    return RefereeAnswer(got, first, second, third_s, in_order(got.findings))


def _of(given: Sequence[_T], lab: int) -> _T | None:
    return None if not given else given[lab if len(given) > 1 else 0]


def _counts(asked: RefereeAsked) -> list[Finding]:
    options = {
        "basis": asked.basis, "tubes": asked.tubes, "corrected": asked.corrected,
        "pressure": asked.pressure_hpa, "portion": asked.portion_g,
    }  # fmt: skip
    return [
        Finding(
            "referee-option-count", Where(field=name), Severity.STOP, {"option": name, "count": len(given)}
        )
        for name, given in options.items() if len(given) > 2
    ]  # fmt: skip


def referee_json(asked: RefereeAsked, answer: RefereeAnswer) -> Mapping[str, object]:
    """The answer as JSON keys (``docs/json.md``)."""
    got = answer.analysis
    return {
        "verdict": None if got is None else got.verdict.value,
        "first_s": answer.first_s,
        "second_s": answer.second_s,
        "third_s": answer.third_s,
        "difference_s": None if got is None else round(got.difference_s, 3),
        "critical_s": None if got is None else round(got.critical_s, 3),
        "p_larger": None if got is None else round(got.p_larger, 6),
        "mean_s": None if got is None else round(got.mean_s, 3),
        "final_s": None if got is None or got.final_s is None else round(got.final_s, 3),
        "rule": asked.rule,
        "needs_third": None if got is None else got.needs_third,
        "paid_by": asked.paid_by,
        "pays": None if got is None or got.pays is None else got.pays.value,
    }
