"""Samples made from samples: a split of one, a composite by grams from retained grain, parents linked."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime
from string import ascii_lowercase
from typing import Final

from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.records.engine import Records
from lodestarch.records.log import utc_text
from lodestarch.records.tables import Sample, SampleParent
from lodestarch.records.unit import Unit
from lodestarch.sheets.typed import typed_number
from lodestarch.work.bench.entered import Entered, Sent, done, not_taken
from lodestarch.work.bench.entry import enter, enter_for
from lodestarch.work.bench.sample_named import code_findings, no_such_ticket, sample_named
from lodestarch.work.office.retained import take_from
from lodestarch.work.office.sample_typed import grams_of, text_of

__all__ = ["CompositeTyped", "SplitTyped", "compose", "read_recipe", "split"]

_MOST_PARTS: Final = 60
_LINE: Final = re.compile(r"^(?P<ticket>\S+?)[\s;,:]+(?P<mass>[\d.,]+)\s*g?$")


@dataclass(frozen=True, slots=True)
class SplitTyped:
    """A part of a sample, as typed."""

    mass_g: str = ""
    reason: str = ""


@dataclass(frozen=True, slots=True)
class CompositeTyped:
    """A composite: its own ticket, and one part a line, ticket and grams by net weight."""

    ticket: str
    recipe: str
    reason: str = ""


def _free_code(unit: Unit, sample: str) -> str | None:
    """The sample's code with the first letter that is free."""
    return next((f"{sample}{x}" for x in ascii_lowercase if unit.get(Sample, f"{sample}{x}") is None), None)


def split(
    records: Records, sent: Sent, code: str, typed: SplitTyped, *, person: str, at: datetime
) -> Entered:
    """Divide a part off a sample: a sample of its own, under the code with a letter behind it."""

    def write(unit: Unit, sample: Sample) -> Entered:
        mass_g, found = grams_of(typed.mass_g, "mass_g", wanted=False)
        found = (*found, *text_of(typed.reason, "reason", 200, wanted=False))
        new = _free_code(unit, sample.key)
        if new is None or code_findings(new):
            found = (*found, Finding("split-no-code", Where(sample=sample.key), Severity.STOP))
        if found or new is None:
            return not_taken(sample.key, found)
        received = utc_text(sent.moment(at))
        unit.add(
            Sample(
                key=new,
                kind="split",
                received_at=received,
                whose=sample.whose,
                material=sample.material,
                mass_g=mass_g,
            )
        )
        unit.add(
            SampleParent(
                key=f"{new}/1",
                sample=new,
                parent=sample.key,
                how="split",
                mass_g=mass_g,
                reason=typed.reason.strip() or None,
            )
        )
        return done(unit, sent, "split", new, at)

    return enter_for(records, sent, code, "sample.edit", write, person=person, at=at)


def read_recipe(text: str) -> tuple[tuple[tuple[str, float], ...], tuple[Finding, ...]]:
    r"""Read a recipe, one part a line: a ticket, then grams by net weight.

    Examples
    --------
    >>> read_recipe("8814 250\n8815; 125,5 g")[0]
    (('8814', 250.0), ('8815', 125.5))
    """
    parts: list[tuple[str, float]] = []
    found: list[Finding] = []
    where = Where(field="recipe")
    for line in (one.strip() for one in text.splitlines()):
        if not line:
            continue
        match = _LINE.match(line)
        mass = None if match is None else typed_number(match["mass"])
        if match is None or mass is None or mass <= 0.0 or len(parts) >= _MOST_PARTS:
            found.append(Finding("recipe-unread", where, Severity.STOP, {"text": line[:60]}))
        elif any(ticket == match["ticket"] for ticket, _ in parts):
            found.append(Finding("recipe-twice", where, Severity.STOP, {"text": match["ticket"]}))
        else:
            parts.append((match["ticket"], mass))
    if len(parts) < 2 and not found:
        found.append(Finding("recipe-short", where, Severity.STOP))
    return tuple(parts), tuple(found)


def _parents(
    unit: Unit, parts: tuple[tuple[str, float], ...], purpose: str, at: datetime
) -> tuple[list[tuple[Sample, float]], list[Finding]]:
    """Take every part from what is retained of it."""
    parents: list[tuple[Sample, float]] = []
    found: list[Finding] = []
    for ticket, mass_g in parts:
        sample = sample_named(unit, ticket)
        if sample is None:
            gone = no_such_ticket(ticket)
            found.append(Finding(gone.code, Where(field="recipe"), Severity.STOP, gone.values))
            continue
        short = take_from(unit, sample, mass_g, purpose, at)
        if short is not None:
            at_field = Where(field="recipe", ticket=sample.ticket, sample=sample.key)
            found.append(Finding(short.code, at_field, Severity.STOP, short.values))
        parents.append((sample, mass_g))
    return parents, found


class _NotTaken(Exception):
    """Ends a unit of work that has written something already."""

    def __init__(self, found: list[Finding]) -> None:
        self.found = found


def compose(records: Records, sent: Sent, typed: CompositeTyped, *, person: str, at: datetime) -> Entered:
    """Make a composite by mass from retained grain: each part is taken from what is left of its sample.

    Returns
    -------
    Entered
        Not taken, with nothing taken from anything, where one part is not known or has too little left.
    """

    def write(unit: Unit) -> Entered:
        ticket, moment = typed.ticket.strip(), sent.moment(at)
        parts, unread = read_recipe(typed.recipe)
        found = [*code_findings(ticket), *unread, *text_of(typed.reason, "reason", 200, wanted=False)]
        if not found and sample_named(unit, ticket) is not None:
            values: dict[str, Value] = {"code": ticket}
            found.append(Finding("ticket-known", Where(field="ticket"), Severity.STOP, values))
        if found:
            return not_taken(None, found)
        parents, short = _parents(unit, parts, f"composite {ticket}", moment)
        if short:
            raise _NotTaken(short)
        total = sum(mass for _, mass in parents)
        materials, owners = {s.material for s, _ in parents}, {s.whose for s, _ in parents}
        unit.add(
            Sample(
                key=ticket,
                kind="composite",
                received_at=utc_text(moment),
                ticket=ticket,
                material=materials.pop() if len(materials) == 1 else None,
                whose=owners.pop() if len(owners) == 1 else None,
                mass_g=total,
                note=typed.reason.strip() or None,
            )
        )
        for number, (sample, mass_g) in enumerate(parents, start=1):
            unit.add(
                SampleParent(
                    key=f"{ticket}/{number}", sample=ticket, parent=sample.key, how="composite", mass_g=mass_g
                )
            )
        return done(unit, sent, "composite", ticket, at)

    try:
        return enter(records, sent, "sample.edit", write, person=person, at=at)
    except _NotTaken as stopped:
        return not_taken(None, stopped.found)
