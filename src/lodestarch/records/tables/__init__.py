"""The tables, typed, by what they keep."""

from __future__ import annotations

from lodestarch.records.tables.base import Base, Kept
from lodestarch.records.tables.day import (
    Day,
    DayFinding,
    Reading,
    RefusedRow,
    Relisted,
    Result,
    SheetSample,
)
from lodestarch.records.tables.log import Event, Head, Site
from lodestarch.records.tables.people import Person, Personal
from lodestarch.records.tables.profiles import ProfileVersion, SignOff

__all__ = [
    "Base",
    "Day",
    "DayFinding",
    "Event",
    "Head",
    "Kept",
    "Person",
    "Personal",
    "ProfileVersion",
    "Reading",
    "RefusedRow",
    "Relisted",
    "Result",
    "SheetSample",
    "SignOff",
    "Site",
]
