"""A retest asked for: what it is made from and under which rule it combines, before its number is known."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from typing import Final

from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.decide.combine import COMBINE_RULES, CombineRule
from lodestarch.records.engine import Records
from lodestarch.records.log import utc_text
from lodestarch.records.tables import Moisture, Preparation, RetainedSample, Retest, Sample, SampleParent
from lodestarch.records.tables.retests import RETEST_FROM, RETEST_RULES
from lodestarch.records.unit import Unit
from lodestarch.sheets.typed import typed_number
from lodestarch.work.bench.entered import Entered, Sent, done, not_taken
from lodestarch.work.bench.entry import enter_for
from lodestarch.work.bench.sample_named import LONGEST_CODE, party_named
from lodestarch.work.office.retests_combined import first_of, retests_under
from lodestarch.work.office.terms_kept import read_kept, standing_terms

__all__ = ["RetestTyped", "ask_retest"]

_LONGEST: Final = 200
_LARGEST_SD_S: Final = 200.0
_SAME_MEAL: Final = "same-meal"


@dataclass(frozen=True, slots=True)
class RetestTyped:
    """A retest as it is asked for.

    Parameters
    ----------
    made_from : str
        ``same-meal``, ``regrind``, ``retained-sample``, ``new-probe``.
    rule : str
        How it combines with what is there: ``all-count``, ``official-appeal``, ``two-nearest``, ``median``,
        ``third-final``.
    rule_from : str
        Whose rule that is: a contract, an office, the lab's own.
    appeal_sd_s : str
        Standard deviation that an appeal is held against, as typed. [s]
    asked_by : str
        Who wants it.
    reason : str
    """

    made_from: str = "regrind"
    rule: str = CombineRule.ALL_COUNT.value
    rule_from: str = ""
    appeal_sd_s: str = ""
    asked_by: str = ""
    reason: str = ""


def ask_retest(
    records: Records, sent: Sent, code: str, typed: RetestTyped, *, person: str, at: datetime
) -> Entered:
    """Ask for a retest of a load: a sample of its own in the bench's lanes, tied to the first.

    Returns
    -------
    Entered
        ``sample`` is the retest's. Not taken: for a sample without a result, for a rule that is not that of
        an earlier retest of the same load, for an appeal without its standard deviation or with more than
        one certificate, and where a field cannot be read. Taken with a word where no retained sample is on
        record, and where it is not the first retest.
    """

    def write(unit: Unit, named: Sample) -> Entered:
        first = first_of(unit, named)
        earlier = retests_under(unit, first.key)
        sd_s, found = _faults(unit, typed, first, earlier, sent.moment(at))
        if any(f.severity is Severity.STOP for f in found):
            return not_taken(first.key, found)
        moment = utc_text(sent.moment(at))
        key = _free_key(unit, first.key, len(earlier) + 2)
        whom = party_named(unit, typed.asked_by, "other") if typed.asked_by.strip() else None
        reason = typed.reason.strip() or None
        retained = _retained(unit, first) if typed.made_from == "retained-sample" else None
        unit.add(
            Sample(
                key=key,
                kind="retest",
                received_at=moment,
                material=first.material,
                whose=first.whose,
                payer=whom,
                note=reason,
            )
        )
        unit.add(
            SampleParent(
                key=f"{key}/1", sample=key, parent=first.key, how="retest", asked_by=whom, reason=reason
            )
        )
        unit.add(
            Retest(
                key=key,
                sample=key,
                parent=first.key,
                made_from=typed.made_from,
                rule=typed.rule,
                asked_at=moment,
                asked_by=whom,
                rule_from=typed.rule_from.strip() or None,
                appeal_sd_s=sd_s,
                retained=None if retained is None else retained.key,
                reason=reason,
            ),
            reason=reason,
        )
        if typed.made_from == _SAME_MEAL:
            _same_meal(unit, first.key, key)
        return done(unit, sent, "retest", key, at, found)

    return enter_for(records, sent, code, "retest.ask", write, person=person, at=at)


def _free_key(unit: Unit, first: str, number: int) -> str:
    while unit.get(Sample, f"{first}-{number}") is not None or unit.find(f"{first}-{number}"):
        number += 1
    return f"{first}-{number}"


def _retained(unit: Unit, first: Sample) -> RetainedSample | None:
    kept = [r for r in unit.of_samples(RetainedSample, [first.key]) if r.destroyed_on is None]
    return kept[-1] if kept else None


def _same_meal(unit: Unit, first: str, key: str) -> None:
    """The same meal is ground already and has the moisture that was measured on it."""
    ground, moistures = unit.of_samples(Preparation, [first]), unit.of_samples(Moisture, [first])
    if ground:
        g = ground[-1]
        unit.add(
            Preparation(
                key=f"{key}/1",
                sample=key,
                cleaned_how=g.cleaned_how,
                mill=g.mill,
                ground_mass_g=g.ground_mass_g,
                ground_at=g.ground_at,
            )
        )
    if moistures:
        m = moistures[-1]
        unit.add(
            Moisture(
                key=f"{key}/1",
                sample=key,
                moisture_pct=m.moisture_pct,
                as_entered=m.as_entered,
                method=m.method,
                measured_on=m.measured_on,
                measured_at=m.measured_at,
                meter=m.meter,
            )
        )


def _faults(
    unit: Unit, typed: RetestTyped, first: Sample, earlier: tuple[Retest, ...], at: datetime
) -> tuple[float | None, list[Finding]]:
    """The appeal's standard deviation, and what stands against the retest or has to be known of it."""
    sd_s = typed_number(typed.appeal_sd_s) if typed.rule == CombineRule.OFFICIAL_APPEAL.value else None
    found = [*_of_fields(typed), *_of_rule(typed, earlier, sd_s)]
    if len(first.key) > LONGEST_CODE - 3:
        most = LONGEST_CODE - 3
        found.append(_told("ticket-too-long", "ticket", Severity.STOP, count=len(first.key), most=most))
    results = unit.in_work([first.key]).results
    if results.height == 0 or results["seconds"][0] is None:
        found.append(_told("retest-nothing-yet", None))
    found += _of_contract(unit, typed, first, at)
    if typed.made_from == "retained-sample" and _retained(unit, first) is None:
        found.append(_told("retest-none-retained", "made_from", Severity.CHECK))
    if earlier:
        found.append(_told("retest-again", None, Severity.CHECK, count=len(earlier) + 1, rule=typed.rule))
    placed = [replace(f, where=replace(f.where, ticket=first.ticket, sample=first.key)) for f in found]
    return sd_s, placed


def _told(code: str, field: str | None, severity: Severity = Severity.STOP, **values: Value) -> Finding:
    return Finding(code, Where(field=field), severity, values)


def _of_fields(typed: RetestTyped) -> list[Finding]:
    """Fields that hold something else than they may."""
    lists = (("made_from", typed.made_from, RETEST_FROM), ("rule", typed.rule, RETEST_RULES))
    found = [
        _told("entry-no-choice", field, text=given[:40], choices=", ".join(allowed))
        for field, given, allowed in lists
        if given not in allowed
    ]
    texts = (("rule_from", typed.rule_from), ("asked_by", typed.asked_by), ("reason", typed.reason))
    return found + [
        _told("entry-too-long", field, count=len(text), most=_LONGEST)
        for field, text in texts
        if len(text) > _LONGEST
    ]


def _of_rule(typed: RetestTyped, earlier: tuple[Retest, ...], sd_s: float | None) -> list[Finding]:
    """A rule that is not the load's, or that lacks what it needs."""
    found = []
    if earlier and earlier[-1].rule != typed.rule and typed.rule in RETEST_RULES:
        last = earlier[-1]
        found.append(
            _told("retest-rule-differs", "rule", first_rule=last.rule, retest=last.key, rule=typed.rule)
        )
    biased = typed.rule in RETEST_RULES and COMBINE_RULES[CombineRule(typed.rule)].contracts_only
    if biased and not typed.rule_from.strip():
        found.append(_told("retest-rule-whose", "rule_from", rule=typed.rule))
    if typed.rule == CombineRule.OFFICIAL_APPEAL.value:
        if typed.made_from in {_SAME_MEAL, "regrind"}:
            found.append(_told("retest-appeal-sample", "made_from", Severity.CHECK))
        if sd_s is None or not 0.0 < sd_s <= _LARGEST_SD_S:
            found.append(_told("appeal-sd-missing", "appeal_sd_s"))
        if earlier:
            found.append(_told("appeal-needs-one", "rule", results=len(earlier) + 1))
    return found


def _of_contract(unit: Unit, typed: RetestTyped, first: Sample, at: datetime) -> list[Finding]:
    """What a contract or bid that is named as the rule's says itself: another rule, days that are over."""
    kept = standing_terms(unit)
    terms = None if kept is None else read_kept(kept).terms
    offers = () if terms is None else (*terms.contracts, *terms.bids)
    offer = next((o for o in offers if o.id == typed.rule_from.strip()), None)
    if offer is None:
        return []
    found = []
    if offer.retest_rule is not None and offer.retest_rule.value != typed.rule:
        own = offer.retest_rule.value
        found.append(_told("retest-not-contracts", "rule", offer=offer.id, first_rule=own, rule=typed.rule))
    days = (at - datetime.fromisoformat(first.received_at)).days
    if offer.appeal_days is not None and days > offer.appeal_days:
        most = offer.appeal_days
        found.append(
            _told("retest-appeal-over", "rule_from", Severity.CHECK, offer=offer.id, days=days, most=most)
        )
    return found
