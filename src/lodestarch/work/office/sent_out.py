"""Samples sent to other laboratories: what went, whose hands it passed, and what came back."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.method.reading import parse_seconds
from lodestarch.records.engine import Records
from lodestarch.records.log import utc_text
from lodestarch.records.tables import CustodyStep, Sample, SentResult, SentSample
from lodestarch.records.tables.outward import CUSTODY_STEPS
from lodestarch.records.unit import Unit, View
from lodestarch.work.bench.entered import Entered, Sent, done, not_taken
from lodestarch.work.bench.entry import enter, enter_for
from lodestarch.work.bench.sample_named import party_named
from lodestarch.work.office.sample_typed import grams_of, text_of

__all__ = ["CameBack", "SendTyped", "SentOut", "Step", "StepTyped", "came_back", "pass_on", "send_out"]
__all__ += ["sent_of"]


@dataclass(frozen=True, slots=True)
class SendTyped:
    """A part of a sample that goes to another laboratory, as typed."""

    laboratory: str
    purpose: str
    mass_g: str = ""
    seal: str = ""


@dataclass(frozen=True, slots=True)
class StepTyped:
    """One step of custody, as typed; ``what`` is one of ``CUSTODY_STEPS``."""

    what: str
    from_whom: str = ""
    to_whom: str = ""
    seal: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Step:
    """One step of custody; names that were erased are ``None``."""

    at: datetime
    what: str
    from_whom: str | None
    to_whom: str | None
    seal: str | None
    note: str | None


@dataclass(frozen=True, slots=True)
class CameBack:
    """What the other laboratory found."""

    at: datetime
    as_entered: str
    seconds: float
    kind: int


@dataclass(frozen=True, slots=True)
class SentOut:
    """A part that was sent, with its custody, the oldest step first, and what came back."""

    key: str
    laboratory: str | None
    purpose: str
    mass_g: float | None
    seal: str | None
    at: datetime
    steps: tuple[Step, ...]
    results: tuple[CameBack, ...]


def send_out(
    records: Records, sent: Sent, code: str, typed: SendTyped, *, person: str, at: datetime
) -> Entered:
    """Send a part of a sample to another laboratory; its custody begins with the packing."""

    def write(unit: Unit, sample: Sample) -> Entered:
        mass_g, found = grams_of(typed.mass_g, "mass_g", wanted=False)
        found = (*found, *text_of(typed.laboratory, "laboratory"), *text_of(typed.purpose, "purpose"))
        found = (*found, *text_of(typed.seal, "seal", 40, wanted=False))
        if found:
            return not_taken(sample.key, found)
        key = f"{sample.key}/{len(unit.of_samples(SentSample, [sample.key])) + 1}"
        moment, laboratory = utc_text(sent.moment(at)), party_named(unit, typed.laboratory, "laboratory")
        seal = typed.seal.strip() or None
        unit.add(
            SentSample(
                key=key,
                sample=sample.key,
                laboratory=laboratory,
                sent_at=moment,
                purpose=typed.purpose.strip(),
                mass_g=mass_g,
                seal=seal,
            )
        )
        unit.add(CustodyStep(key=f"{key}/1", sent=key, what="packed", at=moment, seal=seal))
        return done(unit, sent, "sent out", sample.key, at)

    return enter_for(records, sent, code, "sample.edit", write, person=person, at=at)


def _unknown(key: str) -> Finding:
    values: dict[str, Value] = {"text": key[:40]}
    return Finding("sent-unknown", Where(field="key"), Severity.STOP, values)


def _named(unit: Unit, name: str) -> str | None:
    return party_named(unit, name, "other") if name.strip() else None


def pass_on(
    records: Records, sent: Sent, key: str, typed: StepTyped, *, person: str, at: datetime
) -> Entered:
    """Note the next step of custody of a part that was sent."""

    def write(unit: Unit) -> Entered:
        row = unit.get(SentSample, key)
        if row is None:
            return not_taken(None, [_unknown(key)])
        found: list[Finding] = []
        if typed.what not in CUSTODY_STEPS:
            values: dict[str, Value] = {"text": typed.what[:40], "choices": ", ".join(CUSTODY_STEPS)}
            found.append(Finding("entry-no-choice", Where(field="what"), Severity.STOP, values))
        handed = typed.what == "handed over"
        found += text_of(typed.from_whom, "from_whom", wanted=handed)
        found += text_of(typed.to_whom, "to_whom", wanted=handed)
        found += text_of(typed.seal, "seal", 40, wanted=False)
        found += text_of(typed.note, "note", 200, wanted=False)
        if found:
            return not_taken(row.sample, found)
        unit.add(
            CustodyStep(
                key=f"{key}/{len(unit.all(CustodyStep, sent=key)) + 1}",
                sent=key,
                what=typed.what,
                at=utc_text(sent.moment(at)),
                from_party=_named(unit, typed.from_whom),
                to_party=_named(unit, typed.to_whom),
                seal=typed.seal.strip() or None,
                note=typed.note.strip() or None,
            )
        )
        return done(unit, sent, "custody", row.sample, at)

    return enter(records, sent, "sample.edit", write, person=person, at=at)


def came_back(records: Records, sent: Sent, key: str, seconds: str, *, person: str, at: datetime) -> Entered:
    """Keep what the other laboratory found, paired with our own release where one stands."""

    def write(unit: Unit) -> Entered:
        row, read = unit.get(SentSample, key), parse_seconds(seconds)
        if row is None:
            return not_taken(None, [_unknown(key)])
        if read is None:
            where, values = Where(field="seconds", sample=row.sample), {"text": seconds[:40]}
            return not_taken(row.sample, [Finding("seconds-unread", where, Severity.STOP, dict(values))])
        standing = unit.standing_release(row.sample)
        unit.add(
            SentResult(
                key=f"{key}/{len(unit.all(SentResult, sent=key)) + 1}",
                sent=key,
                received_at=utc_text(sent.moment(at)),
                as_entered=seconds.strip(),
                seconds=read.value_s,
                kind=int(read.kind),
                own_release=None if standing is None else standing.key,
            )
        )
        return done(unit, sent, "result came back", row.sample, at)

    return enter(records, sent, "sample.edit", write, person=person, at=at)


def sent_of(view: View, sample: str) -> tuple[SentOut, ...]:
    """Return what was sent of a sample."""
    names = view.names("parties")
    return tuple(
        SentOut(
            row.key,
            names.get(row.laboratory),
            row.purpose,
            row.mass_g,
            row.seal,
            datetime.fromisoformat(row.sent_at),
            tuple(
                Step(
                    datetime.fromisoformat(one.at),
                    one.what,
                    names.get(one.from_party or ""),
                    names.get(one.to_party or ""),
                    one.seal,
                    one.note,
                )
                for one in sorted(view.all(CustodyStep, sent=row.key), key=lambda s: (s.at, s.key))
            ),
            tuple(
                CameBack(datetime.fromisoformat(one.received_at), one.as_entered, one.seconds, one.kind)
                for one in view.all(SentResult, sent=row.key)
            ),
        )
        for row in view.of_samples(SentSample, [sample])
    )
