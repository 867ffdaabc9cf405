"""Sets of constants by name: those that ship, and those a lab has fitted and kept in a file."""

from __future__ import annotations

from pathlib import Path

from lodestarch.common.errors import LodestarchError, Refused
from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.sheets.tube_set import read_tube_set, write_tube_set
from lodestarch.tube.parameters import ParameterSet, set_names, shipped_set

__all__ = ["keep_set", "set_from", "set_named"]


def set_named(name: str) -> tuple[ParameterSet | None, tuple[Finding, ...]]:
    """Return a shipped set, or ``None`` with ``tube-set-unknown`` (stop)."""
    if name in set_names():
        return shipped_set(name), ()
    values: dict[str, Value] = {"set": name, "known": ", ".join(set_names())}
    return None, (Finding("tube-set-unknown", Where(field="set"), Severity.STOP, values),)


def set_from(path: Path) -> tuple[ParameterSet | None, tuple[Finding, ...]]:
    """Return the set that ``keep_set`` wrote, or ``None`` with what stands in the way.

    Raises
    ------
    LodestarchError
        When the file cannot be read.
    """
    try:
        data = path.read_bytes()
    except OSError as cause:
        raise LodestarchError(f"{path} cannot be read: {cause.strerror}") from None
    return read_tube_set(data, path.name)


def keep_set(params: ParameterSet, path: Path) -> None:
    """Write a fitted set to a file.

    Raises
    ------
    Refused
        When the file is there already: a set that results rest on is never overwritten.
    LodestarchError
        When the file cannot be written.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("x", encoding="utf-8") as out:
            out.write(write_tube_set(params))
    except FileExistsError:
        raise Refused(f"{path} is there already; give the set another file") from None
    except OSError as cause:
        raise LodestarchError(f"{path} cannot be written: {cause.strerror}") from None
