"""What a day is made of when it goes into the records and comes out of them."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

import polars as pl

from lodestarch.common.canonical import Json
from lodestarch.common.findings import Finding

__all__ = ["DayLine", "DayParts", "Found", "InputFile", "KeptDay", "RefusedLine", "StoredDay"]


@dataclass(frozen=True, slots=True)
class InputFile:
    """A file that the day was made from."""

    role: str
    """``bench``, ``samples``, ``terms`` or a name of the caller's."""
    name: str
    sha256: str


@dataclass(frozen=True, slots=True)
class RefusedLine:
    """A row that could not be taken, as it was read."""

    sheet: str
    """Role of the file it stood in."""
    row: int
    text: str
    code: str


@dataclass(frozen=True, slots=True)
class DayParts:
    """One bench sheet as read and judged.

    Parameters
    ----------
    title : str
    read_at : datetime
        When the sheet was read; with time zone.
    demonstration : bool
        True for invented data.
    inputs : tuple of InputFile
        All files that the outcome depends on.
    profiles : tuple of str
        ``id@version`` of every profile used.
    readings, samples, results : polars.DataFrame
        In ``method.table.JUDGED``, ``SAMPLES`` and ``RESULTS``.
    refused : tuple of RefusedLine
    findings : tuple of Finding
        In the caller's order, which is kept.
    summary : Json
        Counts, limits, bins and whatever else the caller wants to have back.
    """

    title: str
    read_at: datetime
    demonstration: bool
    inputs: tuple[InputFile, ...]
    profiles: tuple[str, ...]
    readings: pl.DataFrame
    samples: pl.DataFrame
    results: pl.DataFrame
    refused: tuple[RefusedLine, ...] = ()
    findings: tuple[Finding, ...] = ()
    summary: Json = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class StoredDay:
    """What storing a day did.

    Parameters
    ----------
    day_id : str
        The day's name in the records, new or as it was.
    new : bool
        False: the same files with the same outcome were kept already; nothing was written.
    added : int
        Readings under a key that was not known.
    superseded : int
        Readings that took the place of an earlier one, with the stated reason.
    already_known : int
        Rows that say again what is kept.
    changed : polars.DataFrame
        Rows that say something else under a known key and were not taken: ``row``, ``sample``, ``run``,
        ``position``, ``kept_text``, ``offered_text``.
    """

    day_id: str
    new: bool
    added: int
    superseded: int
    already_known: int
    changed: pl.DataFrame


@dataclass(frozen=True, slots=True)
class DayLine:
    """One day in the list of days."""

    day_id: str
    title: str
    read_at: datetime
    demonstration: bool
    inputs: tuple[InputFile, ...]
    profiles: tuple[str, ...]
    summary: Json


@dataclass(frozen=True, slots=True)
class KeptDay:
    """A day as it was stored, with its name."""

    day_id: str
    parts: DayParts


@dataclass(frozen=True, slots=True)
class Found:
    """A day on which a ticket or sample occurs."""

    day_id: str
    sample: str
    ticket: str | None
    has_result: bool
