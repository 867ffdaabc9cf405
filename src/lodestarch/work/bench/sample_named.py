"""The sample that a ticket or code names, and parties by the name that somebody typed."""

from __future__ import annotations

from typing import Final

from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.records.tables import Sample
from lodestarch.records.unit import Unit, View

__all__ = ["LONGEST_CODE", "code_findings", "no_such_ticket", "party_named", "sample_named"]

LONGEST_CODE: Final = 40
"""Characters of a ticket or sample code. A setting of ours: longer ones fit on no label."""


def code_findings(code: str, field: str = "ticket") -> tuple[Finding, ...]:
    """What is wrong with a ticket or code as typed."""
    where = Where(field=field)
    if not code:
        return (Finding("ticket-empty", where, Severity.STOP),)
    if len(code) > LONGEST_CODE:
        values = {"count": len(code), "most": LONGEST_CODE}
        return (Finding("ticket-too-long", where, Severity.STOP, values),)
    if not code.isprintable() or any(c in "\\/?#%" for c in code):
        return (Finding("ticket-odd-sign", where, Severity.STOP, {"text": code}),)
    return ()


def sample_named(view: View, code: str) -> Sample | None:
    """The sample under this code, else the one received last under this ticket."""
    found = view.get(Sample, code)
    if found is not None:
        return found
    under = sorted(view.all(Sample, ticket=code), key=lambda s: s.received_at)
    return under[-1] if under else None


def no_such_ticket(code: str) -> Finding:
    """The finding where nothing is kept under a ticket."""
    return Finding("ticket-unknown", Where(field="ticket"), Severity.STOP, {"code": code[:LONGEST_CODE]})


def party_named(unit: Unit, name: str, role: str) -> str:
    """The key of a party by name, added where it is not known yet."""
    wanted = name.strip()
    for key, known in unit.names("parties").items():
        if known.casefold() == wanted.casefold():
            return key
    return unit.add_party(wanted, role)
