"""How the lab names itself on paper: kept as a setting, typed in as a small file."""

from __future__ import annotations

import json
import tomllib
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any, Final

from lodestarch.common.canonical import canonical_text
from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.records.engine import Records
from lodestarch.records.tables import Setting
from lodestarch.records.unit import Unit, View
from lodestarch.report.plain import from_plain, to_plain
from lodestarch.words.catalogues import terms
from lodestarch.words.issued.statement import Lab
from lodestarch.work.people.permissions import unit_for

__all__ = [
    "LAB_TEMPLATE",
    "PAPERS",
    "LabSettings",
    "keep_lab",
    "lab_of",
    "lab_template",
    "read_lab",
    "set_lab",
]

_KEY: Final = "lab-on-paper"
PAPERS: Final = ("a4", "us-letter")

LAB_TEMPLATE: Final = """\
# How the lab names itself on certificates and letters. Keep it with: lodestarch certificate --lab lab.toml

name = ""              # as it stands on every paper
address = ["", ""]     # one line each
contact = ""           # telephone, mail: one line
place_of_work = ""     # only where the work is done elsewhere
official = false       # true only for a lab appointed for official tests
k = 2                  # coverage factor of the uncertainty stated; 0 states none
paper = "a4"           # or "us-letter"
language = "en"        # of its papers
other_u_s = 0          # standard uncertainty of a result at another lab, seconds; 0: not known
"""


def lab_template() -> bytes:
    """A file to say how the lab names itself, to fill in."""
    return LAB_TEMPLATE.encode("utf-8")


@dataclass(frozen=True, slots=True)
class LabSettings:
    """The lab on paper, the language of its papers, and what it takes for another lab's spread."""

    lab: Lab
    language: str = "en"
    other_u_s: float | None = None


def lab_of(view: View) -> LabSettings | None:
    """Return how the lab names itself; ``None`` where nobody has said so yet."""
    row = view.get(Setting, _KEY)
    return None if row is None else from_plain(LabSettings, json.loads(row.value), _KEY)


def keep_lab(unit: Unit, given: LabSettings) -> None:
    """Keep how the lab names itself; the same again changes nothing."""
    text, row = canonical_text(to_plain(given)), unit.get(Setting, _KEY)
    if row is None:
        unit.add(Setting(key=_KEY, value=text))
    elif row.value != text:
        unit.edit(Setting(key=_KEY, value=text), made_from=row.version)


def set_lab(records: Records, given: LabSettings, *, person: str, at: datetime) -> None:
    """Keep how the lab names itself, by somebody who may change its settings."""
    with unit_for(records, person, at, "setup.change") as unit:
        keep_lab(unit, given)


def _stop(name: str, field: str, why: str) -> Finding:
    return Finding(
        "lab-file-odd", Where(source=name, field=field), Severity.STOP, {"field": field, "why": why}
    )


_KINDS: Final[dict[str, tuple[type, ...]]] = {
    "name": (str,), "address": (list,), "contact": (str,), "place_of_work": (str,), "official": (bool,),
    "k": (int, float), "paper": (str,), "language": (str,), "other_u_s": (int, float),
}  # fmt: skip


def _odd(body: dict[str, Any], name: str) -> list[Finding]:
    found = [_stop(name, key, "not-known") for key in body if key not in _KINDS]
    for key, kinds in _KINDS.items():
        value = body.get(key)
        if key in body and (not isinstance(value, kinds) or (bool not in kinds and isinstance(value, bool))):
            found.append(_stop(name, key, "other-kind"))
    return found


def read_lab(data: bytes, name: str) -> tuple[LabSettings | None, tuple[Finding, ...]]:
    """Read the file; ``None`` with findings where something in it cannot stand.

    Parameters
    ----------
    data : bytes
        TOML, as ``template lab`` gives it.
    name : str
        Of the file, for findings.
    """
    try:
        body = tomllib.loads(data.decode("utf-8-sig"))
    except (UnicodeDecodeError, tomllib.TOMLDecodeError):
        return None, (_stop(name, "file", "not-toml"),)
    found = _odd(body, name)
    if found:
        return None, tuple(found)
    address = tuple(str(line).strip() for line in body.get("address", ()) if str(line).strip())
    k, other = float(body.get("k", 2)), float(body.get("other_u_s", 0))
    lab = Lab(
        str(body.get("name", "")).strip(), address, str(body.get("contact", "")).strip(),
        str(body.get("place_of_work", "")).strip(), bool(body.get("official", False)), k or None,
        str(body.get("paper", "a4")),
    )  # fmt: skip
    given = LabSettings(lab, str(body.get("language", "en")), other or None)
    found = list(_illegal(given, name))
    return (None, tuple(found)) if found else (given, ())


def _illegal(given: LabSettings, name: str) -> list[Finding]:
    lab, found = given.lab, []
    if not lab.name:
        found.append(_stop(name, "name", "empty"))
    if not lab.address:
        found.append(_stop(name, "address", "empty"))
    if lab.paper not in PAPERS:
        found.append(_stop(name, "paper", "no-choice"))
    if lab.k is not None and not 1.0 <= lab.k <= 4.0:
        found.append(_stop(name, "k", "outside"))
    if given.other_u_s is not None and not 0.0 < given.other_u_s <= 100.0:
        found.append(_stop(name, "other_u_s", "outside"))
    if not speaks(given.language):
        found.append(_stop(name, "language", "no-choice"))
    return found


def speaks(language: str) -> bool:
    """Tell whether issued papers exist in a language."""
    try:
        return "certificate.title" in terms(language)
    except LookupError:
        return False


def in_language(given: LabSettings, language: str | None) -> LabSettings:
    """The same lab with its papers in another language."""
    return given if language is None else replace(given, language=language)
