"""One tube from text fields, as a page or an address hands them in."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache
from typing import Final

from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.tube.inputs import UNITS
from lodestarch.work.tube.asked import TubeAsked
from lodestarch.work.tube.run import TubeAnswer, run_tube

__all__ = ["FIELDS", "enzyme_text", "typed_run", "typed_tube"]

_NUMBERS: Final = ("mass_g", "moisture_pct", "water_ml", "start_temp_c", "wall_mm", "stir_from_s")
FIELDS: Final = ("enzyme", *_NUMBERS, "place", "origin", "set")
"""Names of the fields; one that is empty or missing is the standard tube's."""

_LONGEST: Final = 60
_NUMBER: Final = re.compile(r"^([+-]?\d{1,9}(?:[.,]\d{1,12})?)\s*([^\d\s].*)?$")
_ENZYME: Final = re.compile(r"^(?:(ln|a)\s*)?([+-]?\d{1,9}(?:[.,]\d{1,12})?)\s*(%|s|ln|a)?$", re.IGNORECASE)
_WAYS: Final = {"%": "share_pct", "s": "reads_s", "ln": "ln", "a": "activity"}


def enzyme_text(share_pct: float) -> str:
    """A share of sprouted grain as the field takes it."""
    return f"{share_pct:g} %"


def _number(key: str, text: str) -> float | Finding:
    match = _NUMBER.match(text.replace("\N{MINUS SIGN}", "-"))
    unit = UNITS[key]
    if match is None or (match[2] is not None and match[2].strip().casefold() != unit.casefold()):
        told: dict[str, Value] = {"value": text, "unit": unit}
        return Finding("tube-number-unreadable", Where(field=key), Severity.STOP, told)
    return float(match[1].replace(",", "."))


def _enzyme(asked: TubeAsked, text: str) -> TubeAsked | Finding:
    match = _ENZYME.match(text.replace("\N{MINUS SIGN}", "-"))
    # A number alone could be seconds or a liquefaction number: it has to say which.
    if match is None or bool(match[1]) == bool(match[3]):
        return Finding("tube-enzyme-unreadable", Where(field="enzyme"), Severity.STOP, {"value": text})
    way = _WAYS[(match[1] or match[3]).casefold()]
    return replace(asked, **{way: float(match[2].replace(",", "."))})  # type: ignore[arg-type]  # one of the four ways


def typed_tube(fields: Mapping[str, str]) -> tuple[TubeAsked, tuple[Finding, ...]]:
    """Read one tube from text.

    Parameters
    ----------
    fields : mapping of str to str
        By the names of :data:`FIELDS`. ``enzyme`` is ``5 %`` of sprouted grain, ``300 s`` that the meal
        reads, ``LN 24`` or ``A 9``; ``place`` is a pressure or an elevation with its unit; ``set`` is
        a shipped set.

    Returns
    -------
    TubeAsked, tuple of Finding
        ``tube-number-unreadable``, ``tube-enzyme-unreadable`` (stop).
    """
    asked, found = TubeAsked(), list[Finding]()
    said = {key: fields.get(key, "").strip()[:_LONGEST] for key in FIELDS}
    for key in _NUMBERS:
        if said[key]:
            number = _number(key, said[key])
            if isinstance(number, Finding):
                found.append(number)
            else:
                asked = replace(asked, **{key: number})  # type: ignore[arg-type]  # a number of that name
    if said["enzyme"]:
        stated = _enzyme(asked, said["enzyme"])
        if isinstance(stated, Finding):
            found.append(stated)
        else:
            asked = stated
    if said["place"]:
        asked = replace(asked, place=said["place"])
    if said["origin"]:
        asked = replace(asked, origins=(said["origin"],))
    if said["set"]:
        asked = replace(asked, set_name=said["set"])
    return asked, tuple(found)


@lru_cache(maxsize=32)
def _kept(asked: TubeAsked) -> TubeAnswer:
    """A page and its script ask for the same tube within moments."""
    return run_tube(asked)


def typed_run(fields: Mapping[str, str]) -> TubeAnswer:
    """Run one tube from text; where a field cannot be read nothing is run, and every problem is told."""
    asked, found = typed_tube(fields)
    if not found:
        return _kept(asked)
    # Run on with what could be read, for its problems alone; the enzyme that was not read is no second one.
    unread = any(f.where.field == "enzyme" for f in found)
    rest = run_tube(replace(asked, ln=24.0) if unread else asked)
    return replace(rest, history=None, marks=None, findings=(*found, *_stops(rest.findings)))


def _stops(findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    return tuple(f for f in findings if f.severity is Severity.STOP)
