"""A mapping file: the header names of another program, and ours that they stand for.

::

    [columns]
    "Hagberg" = "seconds"
    "Lab no." = "sample"

One file may serve bench sheets, sample sheets and terms alike; names that a sheet does not have are
passed over.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from lodestarch.common.findings import Finding, Where
from lodestarch.sheets.codes import found
from lodestarch.sheets.columns import BENCH, SAMPLE
from lodestarch.sheets.header import fold
from lodestarch.sheets.terms_columns import TERMS_COLUMNS

__all__ = ["ReadMapping", "parse_toml", "read_mapping"]

_OURS: Final = frozenset(c.name for c in (*BENCH, *SAMPLE, *TERMS_COLUMNS))
_LINE: Final = re.compile(r"at line (\d+)")


@dataclass(frozen=True, slots=True)
class ReadMapping:
    """A mapping file as read.

    Parameters
    ----------
    columns : mapping of str to str
        Their names, folded, to ours; lines with a finding are left out.
    findings : tuple of Finding
    """

    columns: Mapping[str, str]
    findings: tuple[Finding, ...]


def parse_toml(data: bytes) -> dict[str, object] | int:
    """Return the tables of a TOML file, or the number of the line at which reading stopped."""
    body = data.removeprefix(b"\xef\xbb\xbf")
    try:
        text = body.decode("utf-8")
    except UnicodeDecodeError as problem:
        return body.count(b"\n", 0, problem.start) + 1
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as problem:
        line = _LINE.search(str(problem))
        return int(line[1]) if line else text.count("\n") + 1
    except RecursionError:
        return 1


def read_mapping(data: bytes, name: str) -> ReadMapping:
    r"""Read a mapping file; never raises on its content.

    Parameters
    ----------
    data : bytes
        TOML in UTF-8, one table ``[columns]``.
    name : str
        File name, for findings.

    Examples
    --------
    >>> dict(read_mapping(b'[columns]\n"Lab no." = "sample"\n', "ours.toml").columns)
    {'lab_no.': 'sample'}
    """
    where = Where(source=name)
    tables = parse_toml(data)
    if isinstance(tables, int):
        return ReadMapping(
            {}, (found("sheet-mapping-unreadable", Where(source=name, row=tables), line=tables),)
        )
    columns = tables.get("columns")
    if not isinstance(columns, dict):
        return ReadMapping({}, (found("sheet-mapping-no-columns", where),))
    read: dict[str, str] = {}
    findings: list[Finding] = []
    for theirs, ours in columns.items():
        at = Where(source=name, field=theirs)
        target = fold(ours) if isinstance(ours, str) else None
        folded = fold(theirs)
        if target is None or target not in _OURS:
            findings.append(found("sheet-mapping-unknown", at, theirs=theirs, ours=str(ours)))
        elif read.get(folded, target) != target:
            findings.append(
                found("sheet-mapping-twice", at, theirs=theirs, first=read[folded], second=target)
            )
        else:
            read[folded] = target
    return ReadMapping(read, tuple(findings))
