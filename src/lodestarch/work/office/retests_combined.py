"""The retests of a load with what they say, and the number that counts under their rule."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from lodestarch.common.errors import NoAnswer
from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.decide.combine import CombineRule, combined
from lodestarch.method.reading import Kind
from lodestarch.records.tables import Retest, Sample
from lodestarch.records.unit import View
from lodestarch.work.quality.check_runs import held_at_bench

__all__ = ["OneTest", "RetestStory", "first_of", "retests_of", "retests_under"]


@dataclass(frozen=True, slots=True)
class OneTest:
    """The first test of a load, or one retest of it.

    Parameters
    ----------
    code : str
        Sample that it was run on.
    made_from, rule_from : str or None
        ``None`` for the first; whose rule it is, as entered.
    asked_at : datetime or None
    asked_by, reason : str or None
    seconds : float or None
        Its result as reported; ``None`` while it waits. [s]
    kind : Kind
    state : str
        ``waits``, ``held``, ``there``, ``one-sided``.
    """

    code: str
    made_from: str | None
    rule_from: str | None
    asked_at: datetime | None
    asked_by: str | None
    reason: str | None
    seconds: float | None
    kind: Kind
    state: str


@dataclass(frozen=True, slots=True)
class RetestStory:
    """A load that was tested more than once.

    Parameters
    ----------
    first : str
        Sample of the first test.
    rule : CombineRule
    appeal_sd_s : float or None
    tests : tuple of OneTest
        The first, then the retests in the order in which they were asked for.
    counts_s : float or None
        The number that counts by the rule, of the results that are there. [s]
    void : bool
        An appeal stands alone: the earlier certificate is void.
    why_not : Finding or None
        Why the rule gives no number yet.
    """

    first: str
    rule: CombineRule
    appeal_sd_s: float | None
    tests: tuple[OneTest, ...]
    counts_s: float | None
    void: bool
    why_not: Finding | None


def first_of(view: View, sample: Sample) -> Sample:
    """The sample that a retest goes back to; any other is its own first."""
    link = view.get(Retest, sample.key)
    parent = None if link is None else view.get(Sample, link.parent)
    return sample if parent is None else parent


def retests_under(view: View, first: str) -> tuple[Retest, ...]:
    """Retests of a sample, in the order in which they were asked for."""
    return tuple(sorted(view.all(Retest, parent=first), key=lambda r: (r.asked_at, len(r.key), r.key)))


def retests_of(view: View, sample: Sample) -> RetestStory | None:
    """The story of the load that a sample is of; ``None`` where it was tested once."""
    first = first_of(view, sample)
    links = retests_under(view, first.key)
    if not links:
        return None
    codes = [first.key, *(r.key for r in links)]
    work = view.in_work(codes)
    results = {row["sample"]: row for row in work.results.iter_rows(named=True)}
    held, names = held_at_bench(view, work.readings), view.names("parties")
    tests = [_one(first.key, None, results.get(first.key), held, names)]
    tests += [_one(r.key, r, results.get(r.key), held, names) for r in links]
    rule, sd_s = CombineRule(links[-1].rule), links[-1].appeal_sd_s
    return _combined(first.key, rule, sd_s, tests)


def _one(
    code: str,
    link: Retest | None,
    result: Mapping[str, Any] | None,
    held: frozenset[str],
    names: Mapping[str, str],
) -> OneTest:
    seconds = None if result is None else result["seconds"]
    kind = Kind.EXACT if result is None or result["kind"] is None else Kind(result["kind"])
    if seconds is None:
        state = "waits"
    elif code in held or (result is not None and result["status"] == "held"):
        state = "held"
    else:
        state = "there" if kind is Kind.EXACT else "one-sided"
    return OneTest(
        code,
        None if link is None else link.made_from,
        None if link is None else link.rule_from,
        None if link is None else datetime.fromisoformat(link.asked_at),
        None if link is None else names.get(link.asked_by or ""),
        None if link is None else link.reason,
        seconds,
        kind,
        state,
    )


def _combined(first: str, rule: CombineRule, sd_s: float | None, tests: Sequence[OneTest]) -> RetestStory:
    """Apply the rule to the results that are there; a held or one-sided one keeps it from giving a number."""
    where = Where(sample=first, field="rule")

    def story(counts_s: float | None, why: Finding | None, *, void: bool = False) -> RetestStory:
        return RetestStory(first, rule, sd_s, tuple(tests), counts_s, void, why)

    odd = next((t for t in tests if t.state in {"held", "one-sided"}), None)
    if odd is not None:
        code = "retest-held" if odd.state == "held" else "retest-one-sided"
        return story(None, Finding(code, where, Severity.CHECK, {"test": odd.code}))
    there = [t.seconds for t in tests if t.state == "there" and t.seconds is not None]
    if len(there) < 2:
        return story(None, None)
    try:
        counts = combined(rule, there, sd_s=sd_s or 0.0)
    except NoAnswer as cause:
        return story(None, Finding(cause.code, where, Severity.CHECK, cause.values))
    alone = rule is CombineRule.OFFICIAL_APPEAL and counts == there[-1] and there[-1] != there[0]
    return story(counts, None, void=alone)
