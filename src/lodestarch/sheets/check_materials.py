"""Check materials from a small TOML file: what the lab runs to watch its bench, and the values assigned.

::

    [[material]]
    id = "CW-310"          # as the sample sheet writes it under `material`
    name = "check wheat"
    target_s = 310
    u_s = 6                # of one result on it here, that of the target included
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.common.nomenclature import legal_range
from lodestarch.control.bench_rules import CheckMaterial
from lodestarch.sheets.mapping import parse_toml

__all__ = ["CODES", "ReadMaterials", "read_check_materials"]

CODES = {
    "checks-unreadable": ("line",),
    "checks-entry": ("number", "key", "value"),
    "checks-twice": ("id",),
}
"""Codes of this reader with the keys of their values."""

_KEYS = frozenset({"id", "name", "target_s", "u_s"})


@dataclass(frozen=True, slots=True)
class ReadMaterials:
    """Check materials as read; entries with a finding are left out."""

    materials: tuple[CheckMaterial, ...]
    findings: tuple[Finding, ...]


def read_check_materials(data: bytes, name: str) -> ReadMaterials:
    """Read a file of check materials; never raises on its content.

    Parameters
    ----------
    data : bytes
        TOML in UTF-8 with tables ``[[material]]``.
    name : str
        File name, for findings.
    """
    tables = parse_toml(data)
    entries = tables.get("material") if isinstance(tables, dict) else None
    if not isinstance(entries, list):
        line = tables if isinstance(tables, int) else 1
        where = Where(source=name, row=line)
        return ReadMaterials((), (Finding("checks-unreadable", where, Severity.STOP, {"line": line}),))
    good: dict[str, CheckMaterial] = {}
    found: list[Finding] = []
    for number, entry in enumerate(entries, 1):
        fault = _fault(entry)
        if fault is not None:
            key, value = fault
            values: dict[str, Value] = {"number": number, "key": key, "value": value}
            found.append(Finding("checks-entry", Where(source=name, field=key), Severity.STOP, values))
            continue
        made = CheckMaterial(
            entry["id"], str(entry.get("name", entry["id"])), float(entry["target_s"]), float(entry["u_s"])
        )
        if made.material_id.casefold() in good:
            where = Where(source=name, field="id")
            found.append(Finding("checks-twice", where, Severity.STOP, {"id": made.material_id}))
            continue
        good[made.material_id.casefold()] = made
    return ReadMaterials(tuple(good.values()), tuple(found))


def _fault(entry: Any) -> tuple[str, str] | None:
    """The first key of an entry that cannot stand, with what it says; ``None`` where all can."""
    if not isinstance(entry, dict):
        return "material", str(entry)
    unknown = sorted(set(entry) - _KEYS)
    if unknown:
        return unknown[0], str(entry[unknown[0]])
    if not isinstance(entry.get("id"), str) or not entry["id"].strip():
        return "id", str(entry.get("id", ""))
    low, high = legal_range("seconds")
    for key, least, most in (("target_s", low, high), ("u_s", 1e-9, legal_range("u_s")[1])):
        value = entry.get(key)
        if isinstance(value, bool) or not isinstance(value, (int, float)) or not least <= value <= most:
            return key, "" if value is None else str(value)
    return None
