"""How far the inputs of a lab's own bench stray, from a small TOML file, for the tube's error budget.

::

    [mass_g]
    even = 0.02                  # anywhere within ± 0.02 g

    [moisture_pct]
    normal = 0.2                 # standard deviation
    provenance = "measured here"
    note = "ten double determinations"

    [activity]
    relative_normal = 0.03       # as a share of the value

What is left out does not stray.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import Final

from lodestarch.common.errors import OutOfRange, UnknownName
from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.common.provenance import Provenance
from lodestarch.sheets.mapping import parse_toml
from lodestarch.tube.bench import Bench, Spread

__all__ = ["read_tube_bench"]

_SHAPES: Final = ("even", "normal", "relative_even", "relative_normal")


def read_tube_bench(data: bytes, name: str) -> tuple[Bench | None, tuple[Finding, ...]]:
    """Read a bench; never raises on its content.

    Parameters
    ----------
    data : bytes
        TOML in UTF-8: a table an input.
    name : str
        File name; it becomes the name of the bench.

    Returns
    -------
    Bench or None, tuple of Finding
        ``tube-bench-unreadable`` (no TOML from a line on), ``tube-bench-entry`` (an input, shape or width
        that cannot be), ``tube-bench-empty``; all *stop*.
    """
    tables = parse_toml(data)
    if isinstance(tables, int):
        where = Where(source=name, row=tables)
        return None, (Finding("tube-bench-unreadable", where, Severity.STOP, {"line": tables}),)
    spreads: dict[str, Spread] = {}
    found: list[Finding] = []
    for key, line in tables.items():
        made = _spread(str(key), line)
        if isinstance(made, Spread):
            spreads[made.key] = made
        else:
            told: dict[str, Value] = {"input": str(key), "key": made[0], "value": made[1]}
            where = Where(source=name, field=str(key))
            found.append(Finding("tube-bench-entry", where, Severity.STOP, told))
    if not spreads and not found:
        found.append(Finding("tube-bench-empty", Where(source=name), Severity.STOP))
    return (None if found else Bench(name, MappingProxyType(spreads))), tuple(found)


def _spread(key: str, line: object) -> Spread | tuple[str, str]:
    """One input's spread, or the key that cannot stand with what it says."""
    if not isinstance(line, dict):
        return key, str(line)
    shapes = [shape for shape in _SHAPES if shape in line]
    unknown = sorted(set(line) - {*_SHAPES, "provenance", "note"})
    if unknown or len(shapes) != 1:
        at = unknown[0] if unknown else ", ".join(shapes)
        return at, str(line.get(at, ""))
    width = line[shapes[0]]
    if isinstance(width, bool) or not isinstance(width, (int, float)):
        return shapes[0], str(width)
    said = line.get("provenance", Provenance.ENTERED_BY_LAB.value)
    try:
        standing = Provenance(said)
    except ValueError:
        return "provenance", str(said)
    try:
        return Spread(key, shapes[0], float(width), standing, str(line.get("note", "")))
    except (UnknownName, OutOfRange):
        return shapes[0], str(width)
