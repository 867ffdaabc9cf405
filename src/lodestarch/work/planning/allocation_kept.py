"""The allocation that the page works on: its problem, the settled draws, and steps back and forth."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any, Final

from lodestarch.common.canonical import canonical_text, sha256_hex
from lodestarch.common.findings import Finding, Severity, Value, Where, in_order
from lodestarch.plan.allocate.answer import allocate
from lodestarch.plan.allocate.exclude import exclusions
from lodestarch.plan.allocate.plan import PlanSettings
from lodestarch.plan.allocate.problem import FN, Excluded, Pin, PlanProblem
from lodestarch.plan.allocate.problem_check import check_problem
from lodestarch.records.engine import Records
from lodestarch.records.unit import Unit, View
from lodestarch.sheets.plan_problem import read_plan_problem
from lodestarch.trade.limits import Limit
from lodestarch.work.bench.entered import Entered, Sent, done, not_taken
from lodestarch.work.bench.entry import enter
from lodestarch.work.planning.allocate import TRIALS, ProblemOutcome
from lodestarch.work.planning.kept_documents import document_of, keep_document
from lodestarch.work.planning.typed_amounts import chosen, typed_amount

__all__ = [
    "ALLOCATION", "LONGEST_PROBLEM", "AllocationKept", "allocation_kept", "keep_problem", "limits_of_plan",
    "pin", "problem_document", "settle_time", "solve_kept", "step_back", "step_forth",
]  # fmt: skip

ALLOCATION: Final = "allocate/now"
_KIND: Final = "allocation"
LONGEST_PROBLEM: Final = 2_000_000
"""Characters of a problem. A setting of ours: some thousand bins."""
_MOST_STEPS: Final = 60
_USUAL_TIME_S: Final = 20.0
_MOST_TIME_S: Final = 600.0
_GAP: Final = 1e-6

Draws = tuple[tuple[str, str, float], ...]


@dataclass(frozen=True, slots=True)
class AllocationKept:
    """The allocation as it is kept.

    Parameters
    ----------
    problem : PlanProblem
        With the settled draws.
    name : str
        File that it came from.
    back, forth : int
        Steps that can be taken back, and forth again.
    time_s : float
        Time in the solver. [s]
    barred : mapping of (str, str) to Excluded
        Bins that may not go to an offer.
    findings : tuple of Finding
        Of reading it.
    digest : str
        Of everything that the answer depends on.
    demonstration : bool
    """

    problem: PlanProblem
    name: str
    back: int
    forth: int
    time_s: float
    barred: Mapping[tuple[str, str], Excluded]
    findings: tuple[Finding, ...]
    digest: str
    demonstration: bool = False


def _draws(pins: Sequence[Any]) -> Draws:
    return tuple((str(b), str(o), float(t)) for b, o, t in pins)


def problem_document(text: str, name: str, *, demonstration: bool = False) -> dict[str, Any]:
    """Return a problem as it is kept, its settled draws taken out of the text."""
    read = read_plan_problem(text.encode(), name).problem
    pins = [] if read is None else [[p.bin_id, p.offer_id, p.tonnes] for p in read.pins]
    return {
        "text": text, "name": name, "pins": pins, "past": [], "later": [], "time_s": _USUAL_TIME_S,
        "demonstration": demonstration,
    }  # fmt: skip


def allocation_kept(view: View) -> AllocationKept | None:
    """Return the allocation that is kept; ``None`` where there is none yet."""
    found = document_of(view, ALLOCATION)
    if found is None:
        return None
    read = read_plan_problem(found["text"].encode(), found["name"])
    if read.problem is None:
        return None
    draws = _draws(found["pins"])
    problem = replace(read.problem, pins=tuple(Pin(b, o, t) for b, o, t in draws))
    time_s = float(found["time_s"])
    said = canonical_text([found["text"], [list(d) for d in draws], time_s])
    return AllocationKept(
        problem,
        found["name"],
        len(found["past"]),
        len(found["later"]),
        time_s,
        _barred(problem),
        read.findings,
        sha256_hex(said.encode()),
        bool(found.get("demonstration")),
    )


def _barred(problem: PlanProblem) -> dict[tuple[str, str], Excluded]:
    if any(f.severity is Severity.STOP for f in check_problem(problem)):
        return {}
    out: dict[tuple[str, str], Excluded] = {}
    for one in exclusions(problem):
        for offer in problem.offers if one.offer_id is None else ():
            out.setdefault((one.bin_id, offer.id), one)
        if one.offer_id is not None:
            out.setdefault((one.bin_id, one.offer_id), one)
    return out


def limits_of_plan(view: View) -> tuple[Limit, ...]:
    """Return the limits in seconds of the contracts that are planned for."""
    kept = allocation_kept(view)
    if kept is None:
        return ()
    return tuple(
        Limit(offer.id, offer.name or offer.id, clause.at_least, clause.at_most, offer.id)
        for offer in kept.problem.offers
        for clause in offer.clauses
        if clause.factor == FN
    )


def solve_kept(
    kept: AllocationKept, rng: Any, *, beside: bool = True, trials: int = TRIALS
) -> ProblemOutcome:
    """Solve the allocation that is kept.

    Parameters
    ----------
    kept : AllocationKept
    rng : numpy.random.Generator
        For the simulation.
    beside : bool
        Solve for one more tonne, one second and one bin fewer as well.
    trials : int
    """
    answer = allocate(kept.problem, rng, PlanSettings(_GAP, kept.time_s), trials=trials, beside=beside)
    return ProblemOutcome(answer, in_order((*kept.findings, *answer.findings)))


def keep_problem(records: Records, sent: Sent, text: str, name: str, *, person: str, at: datetime) -> Entered:
    """Keep another problem; nothing is settled in it but what it settles itself."""

    def write(unit: Unit) -> Entered:
        where = Where(field="problem")
        if not text.strip():
            return not_taken(None, [Finding("plan-text-empty", where, Severity.STOP)])
        if len(text) > LONGEST_PROBLEM:
            values = {"count": len(text), "most": LONGEST_PROBLEM}
            return not_taken(None, [Finding("entry-too-long", where, Severity.STOP, values)])
        read = read_plan_problem(text.encode(), name)
        if read.problem is None:
            return not_taken(None, in_order(read.findings))
        keep_document(unit, ALLOCATION, _KIND, problem_document(text, name), at)
        return done(unit, sent, "plan problem", "", at, read.findings)

    return enter(records, sent, "plan.make", write, person=person, at=at)


def _changed(unit: Unit, pins: Draws, at: datetime) -> None:
    """Keep other draws, what stood before as a step back."""
    found = dict(document_of(unit, ALLOCATION) or {})
    past = [*found["past"], found["pins"]][-_MOST_STEPS:]
    found |= {"pins": [list(p) for p in pins], "past": past, "later": []}
    keep_document(unit, ALLOCATION, _KIND, found, at)


def pin(
    records: Records,
    sent: Sent,
    bin_id: str,
    to: str,
    tonnes_text: str,
    *,
    person: str,
    at: datetime,
) -> Entered:
    """Settle a draw, or let it go where nothing is typed.

    Returns
    -------
    Entered
        Not taken: ``plan-none``; ``pin-barred`` where law or a missing number excludes the draw;
        ``pin-more-than-there`` where the bin has not that much to give.
    """

    def write(unit: Unit) -> Entered:
        kept = allocation_kept(unit)
        if kept is None:
            return not_taken(None, [Finding("plan-none", Where(field="bin"), Severity.STOP)])
        found: list[Finding] = []
        which = chosen(bin_id, "bin", [b.id for b in kept.problem.bins], found)
        goal = chosen(to, "to", [o.id for o in kept.problem.offers], found)
        others = tuple(
            (p.bin_id, p.offer_id, p.tonnes)
            for p in kept.problem.pins
            if (p.bin_id, p.offer_id) != (which, goal)
        )
        if not tonnes_text.strip():
            if found or which is None:
                return not_taken(None, found)
            _changed(unit, others, at)
            return done(unit, sent, "draw let go", "", at)
        tonnes = typed_amount(tonnes_text, "tonnes", found, zero=True)
        if which is None or goal is None or tonnes is None:
            return not_taken(None, found)
        found += _cannot(kept, which, goal, tonnes, others)
        if found:
            return not_taken(None, found)
        _changed(unit, (*others, (which, goal, tonnes)), at)
        return done(unit, sent, "draw settled", "", at)

    return enter(records, sent, "plan.make", write, person=person, at=at)


def _cannot(kept: AllocationKept, which: str, goal: str, tonnes: float, others: Draws) -> list[Finding]:
    where = Where(field="tonnes")
    barred = kept.barred.get((which, goal))
    if barred is not None and tonnes > 0.0:
        rule: dict[str, Value] = {"bin": which, "to": goal, "rule": str(barred.rule)}
        return [Finding("pin-barred", where, Severity.STOP, rule)]
    one = next(b for b in kept.problem.bins if b.id == which)
    free = one.tonnes - one.reserve_t - sum(t for b, _, t in others if b == which)
    if tonnes > free + 1e-6:
        values: dict[str, Value] = {"bin": which, "tonnes": tonnes, "held_t": max(free, 0.0)}
        return [Finding("pin-more-than-there", where, Severity.STOP, values)]
    return []


def _step(records: Records, sent: Sent, out_of: str, into: str, *, person: str, at: datetime) -> Entered:
    def write(unit: Unit) -> Entered:
        found = dict(document_of(unit, ALLOCATION) or {})
        steps = list(found.get(out_of, []))
        if not steps:
            return not_taken(None, [Finding("plan-no-step", Where(field="plan"), Severity.STOP)])
        pins = steps.pop()
        found |= {out_of: steps, into: [*found[into], found["pins"]], "pins": pins}
        keep_document(unit, ALLOCATION, _KIND, found, at)
        return done(unit, sent, "draws stepped", "", at)

    return enter(records, sent, "plan.make", write, person=person, at=at)


def step_back(records: Records, sent: Sent, *, person: str, at: datetime) -> Entered:
    """Undo the last change of the settled draws."""
    return _step(records, sent, "past", "later", person=person, at=at)


def step_forth(records: Records, sent: Sent, *, person: str, at: datetime) -> Entered:
    """Do again what was undone last."""
    return _step(records, sent, "later", "past", person=person, at=at)


def settle_time(records: Records, sent: Sent, text: str, *, person: str, at: datetime) -> Entered:
    """Keep how long the solver may look. [s]"""

    def write(unit: Unit) -> Entered:
        found: list[Finding] = []
        seconds = typed_amount(text, "time_s", found, name="time")
        kept = document_of(unit, ALLOCATION)
        if kept is None:
            return not_taken(None, [Finding("plan-none", Where(field="time_s"), Severity.STOP)])
        if seconds is not None and not 1.0 <= seconds <= _MOST_TIME_S:
            values = {"time_s": seconds, "most_s": _MOST_TIME_S}
            found.append(Finding("plan-time-odd", Where(field="time_s"), Severity.STOP, values))
        if found or seconds is None:
            return not_taken(None, found)
        keep_document(unit, ALLOCATION, _KIND, {**kept, "time_s": seconds}, at)
        return done(unit, sent, "plan time", "", at)

    return enter(records, sent, "plan.make", write, person=person, at=at)
