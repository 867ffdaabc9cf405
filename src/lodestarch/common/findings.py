"""Problems in somebody's data, as values.

A finding says what was met (``code``), where (``where``), how grave it is (``severity``) and
with which numbers (``values``). What is wrong and what to do are sentences, and those come
from ``words`` by code: a pure room never writes prose.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType

from lodestarch.common.errors import OutOfRange

__all__ = ["NOWHERE", "Finding", "Severity", "Value", "Where", "in_order", "of_range", "worst"]

Value = str | float | int | bool | None


class Severity(StrEnum):
    """How far a finding reaches."""

    STOP = "stop"
    """The row, reading or result cannot be used until this is settled."""
    CHECK = "check"
    """Usable, but a person has to look before it is relied on."""
    NOTE = "note"
    """Worth knowing; nothing to do now."""


@dataclass(frozen=True, slots=True)
class Where:
    """The place of a finding; every part is optional.

    ``source`` is a sheet or file name, ``row`` counts its lines from 1 (the header), ``field``
    is a column or key; the rest name the thing in the lab.
    """

    source: str | None = None
    row: int | None = None
    field: str | None = None
    ticket: str | None = None
    sample: str | None = None
    run: str | None = None
    position: str | None = None


NOWHERE = Where()


@dataclass(frozen=True, slots=True)
class Finding:
    """One problem in data.

    Parameters
    ----------
    code : str
        Kebab-case name, listed with its sentences in ``words`` and in ``docs/findings.md``.
    where : Where
        Row, field and thing.
    severity : Severity
        *stop*, *check* or *note*.
    values : mapping of str to value
        The numbers and texts that the sentence needs; keys carry units (``mass_g``).
    """

    code: str
    where: Where = NOWHERE
    severity: Severity = Severity.CHECK
    values: Mapping[str, Value] = field(default_factory=lambda: MappingProxyType({}))


_ORDER = {Severity.STOP: 2, Severity.CHECK: 1, Severity.NOTE: 0}


def worst(findings: list[Finding] | tuple[Finding, ...]) -> Severity | None:
    """Return the gravest severity among findings, or ``None`` when there are none."""
    return max((f.severity for f in findings), key=_ORDER.__getitem__, default=None)


def in_order(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return findings the gravest first, then by row, then as they came."""
    return tuple(sorted(findings, key=lambda f: (-_ORDER[f.severity], f.where.row or 0)))


def of_range(cause: OutOfRange, where: Where) -> Finding:
    """Turn an argument outside its legal range into the finding ``value-illegal``."""
    values: dict[str, Value] = {
        "name": cause.name,
        "value": cause.value,
        "low": cause.low,
        "high": cause.high,
        "unit": cause.unit,
    }
    return Finding("value-illegal", where, Severity.STOP, values)
