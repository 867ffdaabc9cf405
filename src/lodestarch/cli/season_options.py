"""What the commands of ``season`` share: options worded once, and the table that a question is about."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from lodestarch.cli.files import bytes_of
from lodestarch.cli.options import decimal
from lodestarch.cli.output import show_findings
from lodestarch.common.errors import LodestarchError

if TYPE_CHECKING:
    from lodestarch.sheets.season_sheet import SeasonSheet
    from lodestarch.work.season.kept import KeptSeason

__all__ = [
    "Factors",
    "File",
    "Floor",
    "Limit",
    "Picture",
    "Probability",
    "ScaleName",
    "Sites",
    "Value",
    "kept_of",
    "limit_held",
    "number_typed",
    "probable",
    "sheet_of",
]


def number_typed(text: str | float) -> float:
    """Read a number; a default comes as the number that it is."""
    return decimal(str(text))


File = Annotated[
    Path | None,
    typer.Argument(metavar="[FILE]", help="Results: CSV or xlsx, a row a result. [default: the records]"),
]
Value = Annotated[str | None, typer.Option(help="Column of the seconds. [default: found by name]")]
Factors = Annotated[
    str,
    typer.Option(
        help="Columns to tell apart, with commas between; a:b is two together. [default: found by name]"
    ),
]
ScaleName = Annotated[str, typer.Option(help="seconds, log, or liquefaction.")]
Probability = Annotated[
    float, typer.Option(parser=number_typed, help="Content of the intervals.", metavar="NUMBER")
]
Floor = Annotated[
    float,
    typer.Option(parser=number_typed, help="At or below it a result only bounds. [s]", metavar="SECONDS"),
]
Limit = Annotated[
    float, typer.Option(parser=number_typed, help="Limit that matters to you. [s]", metavar="SECONDS")
]
Sites = Annotated[
    str,
    typer.Option("--site", help="Sites of the records, with commas between, where they hold several."),
]
Picture = Annotated[Path | None, typer.Option("--out", "-o", help="Write a picture here, as SVG.")]


def sheet_of(
    file: Path | None, value: str | None, factors: str, floor: float, records: str, sites: str = ""
) -> SeasonSheet:
    """Results of a file; of the records where none is given."""
    from lodestarch.work.season.asked import SeasonAsked, from_file, from_kept

    named = tuple(f.strip() for f in factors.split(",") if f.strip())
    asked = SeasonAsked(value, named, floor)
    if file is not None:
        return from_file(bytes_of(file), file.name, asked)
    with kept_of(records, sites) as kept:
        return from_kept(kept, asked)


@contextmanager
def kept_of(records: str, sites: str = "") -> Iterator[KeptSeason]:
    """What the records hold of the season, opened for reading; of several sites where they are named."""
    from lodestarch.records.engine import open_records
    from lodestarch.work.season.kept import read_kept, together

    named: list[str | None] = [s.strip() for s in sites.split(",") if s.strip()]
    read = []
    for site in named or [None]:
        with open_records(
            records, create=False, mode="read", clock=lambda: datetime.now(UTC), site=site
        ) as opened:
            read.append((site or "", read_kept(opened)))
    yield read[0][1] if len(read) == 1 else together(read)


def limit_held(limit_s: float) -> float:
    """Return a limit that a falling number can have.

    Raises
    ------
    LodestarchError
        For any other.
    """
    if not 51.0 <= limit_s <= 1200.0:
        raise LodestarchError(f"{limit_s:g} s is no limit for a falling number; give 51 to 1200")
    return limit_s


def probable(probability: float) -> bool:
    """Tell whether an interval can have this content; says why where not."""
    from lodestarch.work.season.answers import probability_fault

    fault = probability_fault(probability)
    if fault is not None:
        show_findings((fault,))
    return fault is None
