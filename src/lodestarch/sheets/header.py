"""Which column is which: header names folded, mapped, and bound to the columns of a sheet."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from lodestarch.common.findings import Finding, Where
from lodestarch.sheets.codes import found
from lodestarch.sheets.columns import Column

__all__ = ["LOOK_AT", "MOST_COLUMNS", "Binding", "Names", "bind", "fold", "header_index"]

LOOK_AT: Final = 20
"""Rows among which the header is looked for; sheets printed by other programs open with a title."""

MOST_COLUMNS: Final = 256
"""Most columns that a sheet may have."""

_BLANKS: Final = re.compile(r"[\s_\-]+")


def fold(name: str) -> str:
    """Return a header name without the differences that carry no meaning: case, blanks, hyphens.

    Examples
    --------
    >>> fold(" Moisture-PCT ")
    'moisture_pct'
    """
    return _BLANKS.sub("_", name.strip().strip("\ufeff").casefold()).strip("_")


@dataclass(frozen=True, slots=True)
class Names:
    """What the headers of one kind of sheet may say.

    Parameters
    ----------
    columns : tuple of Column
        Our columns.
    meaning : mapping of str to str
        Folded header names, ours and those of other programs, and the column of ours that each stands for.
    """

    columns: tuple[Column, ...]
    meaning: Mapping[str, str]

    @classmethod
    def of(cls, columns: tuple[Column, ...], mapping: Mapping[str, str] | None) -> Names:
        """Return the names of ``columns`` with a mapping of other header names to ours, theirs first."""
        ours = {c.name: c.name for c in columns}
        said = ours | {fold(k): fold(v) for k, v in (mapping or {}).items()}
        return cls(columns, {k: v for k, v in said.items() if v in ours})

    def known(self, header: str) -> str | None:
        """Return our name for a header, ``None`` when it stands for no column of this sheet."""
        return self.meaning.get(fold(header))

    def score(self, fields: Sequence[str]) -> tuple[int, int]:
        """Return how many required and how many known columns the first fields of a row name."""
        met = {name for f in fields[:MOST_COLUMNS] if (name := self.known(f)) is not None}
        return sum(c.required and c.name in met for c in self.columns), len(met)


@dataclass(frozen=True, slots=True)
class Binding:
    """Places of our columns in a sheet.

    Parameters
    ----------
    places : mapping of str to tuple of int
        For each of our columns that the sheet has, where it stands; more than one place when it stands twice.
    complete : bool
        Every required column is there.
    findings : tuple of Finding
    """

    places: Mapping[str, tuple[int, ...]]
    complete: bool
    findings: tuple[Finding, ...]


def header_index(rows: Sequence[Sequence[str]], names: Names) -> int:
    """Return which of the first rows is the header: the first of those that name most of our columns."""
    best = max((names.score(r) for r in rows[:LOOK_AT]), default=(0, 0))
    if best == (0, 0):
        return next((i for i, r in enumerate(rows) if any(f.strip() for f in r)), 0)
    return next(i for i, r in enumerate(rows) if names.score(r) == best)


def bind(header: Sequence[str], names: Names, where: Where, *, filled: Callable[[int], bool]) -> Binding:
    """Return where our columns stand, with a finding for each that is missing, unknown or met twice.

    Parameters
    ----------
    header : sequence of str
        Fields of the header row.
    names : Names
        What they may say.
    where : Where
        Source and row of the header.
    filled : callable
        Whether the column beneath a place of the header holds anything; an empty one without a name is
        nobody's.
    """
    places: dict[str, list[int]] = {}
    strangers: list[str] = []
    for i, field in enumerate(header):
        name = names.known(field)
        if name is not None:
            places.setdefault(name, []).append(i)
        elif field.strip():
            strangers.append(field.strip())
        elif filled(i):
            strangers.append(f"({i + 1})")
    met = ", ".join(f.strip() for f in header if f.strip())
    if not places:
        wanted = ", ".join(c.name for c in names.columns if c.required)
        return Binding(
            {}, complete=False, findings=(found("sheet-header-unknown", where, met=met, wanted=wanted),)
        )
    findings = [
        found("sheet-column-missing", _at(where, c.name), column=c.name, met=met)
        for c in names.columns
        if c.required and c.name not in places
    ]
    complete = not findings
    findings += [
        found("sheet-column-twice", _at(where, name), column=name, count=len(at))
        for name, at in places.items()
        if len(at) > 1
    ]
    findings += [found("sheet-column-unknown", _at(where, s), column=s) for s in strangers]
    return Binding({k: tuple(v) for k, v in places.items()}, complete, tuple(findings))


def _at(where: Where, field: str) -> Where:
    return Where(source=where.source, row=where.row, field=field)
