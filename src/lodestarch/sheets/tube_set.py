"""A fitted set of constants of the tube model as a small TOML file, there and back.

::

    name = "our bench, 2031"
    standing = "fitted-here"
    source = "runs.csv"
    fitted = ["paste_time_s", "cutting_rate_per_s"]

    [constants]
    paste_time_s = 561.3
    cutting_rate_per_s = 0.000902

What is not named is that of the shipped reference set.
"""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Final

from lodestarch.common.errors import OutOfRange, UnknownName
from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.common.provenance import Provenance
from lodestarch.sheets.mapping import parse_toml
from lodestarch.tube.parameters import ParameterSet, shipped_set
from lodestarch.tube.standing import Standing

__all__ = ["read_tube_set", "write_tube_set"]

_STANDINGS: Final = {s.value: s for s in Standing}
_KEYS: Final = frozenset({"name", "standing", "source", "fitted", "constants"})


def write_tube_set(params: ParameterSet) -> str:
    """Return the file of a set; every number comes back to the last bit."""
    shipped = shipped_set()
    source = next((params.table[key].source for key in params.fitted), "")
    own = [key for key in params.table if key in params.fitted or params[key] != shipped[key]]
    lines = [
        f"name = {json.dumps(params.name)}",
        f"standing = {json.dumps(params.standing.value)}",
        f"source = {json.dumps(source)}",
        f"fitted = {json.dumps(list(params.fitted))}",
        "",
        "[constants]",
        *(f"{key} = {params[key]!r}" for key in own),
    ]
    return "\n".join(lines) + "\n"


def read_tube_set(data: bytes, name: str) -> tuple[ParameterSet | None, tuple[Finding, ...]]:
    """Read a set; never raises on its content.

    Parameters
    ----------
    data : bytes
        TOML in UTF-8.
    name : str
        File name, for findings.

    Returns
    -------
    ParameterSet or None, tuple of Finding
        ``tube-set-unreadable`` (no TOML from a line on), ``tube-set-entry`` (a key with a value that it
        cannot have); both *stop*.
    """
    tables = parse_toml(data)
    if isinstance(tables, int):
        where = Where(source=name, row=tables)
        return None, (Finding("tube-set-unreadable", where, Severity.STOP, {"line": tables}),)
    made = _set_of(tables, name)
    if isinstance(made, ParameterSet):
        return made, ()
    told: dict[str, Value] = {"key": made[0], "value": made[1]}
    return None, (Finding("tube-set-entry", Where(source=name, field=made[0]), Severity.STOP, told),)


def _set_of(tables: dict[str, object], name: str) -> ParameterSet | tuple[str, str]:
    """The set, or the first key that cannot stand with what it says."""
    odd = _head(tables)
    constants, fitted = tables.get("constants"), tables.get("fitted", [])
    if odd is not None:
        return odd
    if not isinstance(constants, dict) or not constants:
        return "constants", str(tables.get("constants", ""))
    if not isinstance(fitted, list) or not set(map(str, fitted)) <= set(constants):
        return "fitted", str(fitted)
    values: dict[str, float] = {}
    for key, value in constants.items():
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            return str(key), str(value)
        values[str(key)] = float(value)
    return _made(tables, values, tuple(map(str, fitted)), name)


def _head(tables: dict[str, object]) -> tuple[str, str] | None:
    """A key above the constants that cannot stand, with what it says."""
    unknown = sorted(set(tables) - _KEYS)
    if unknown:
        return unknown[0], str(tables[unknown[0]])
    title, standing = tables.get("name"), tables.get("standing")
    if not isinstance(title, str) or not title.strip():
        return "name", str(tables.get("name", ""))
    if not isinstance(standing, str) or standing not in _STANDINGS:
        return "standing", str(tables.get("standing", ""))
    return None


def _made(
    tables: dict[str, object], values: dict[str, float], fitted: tuple[str, ...], name: str
) -> ParameterSet | tuple[str, str]:
    standing = _STANDINGS[str(tables["standing"])]
    measured = standing is Standing.FITTED_HERE
    provenance = Provenance.MEASURED_HERE if measured else Provenance.DERIVED
    source = str(tables.get("source", name))
    try:
        made = shipped_set().replaced(str(tables["name"]), values, provenance, source, standing=standing)
    except UnknownName as cause:
        return cause.name, str(values.get(cause.name, ""))
    except OutOfRange as cause:
        return cause.name, str(cause.value)
    return replace(made, fitted=fitted)
