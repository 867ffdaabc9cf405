"""A file of earlier duplicate pairs: ``first``, ``second`` and, where there, ``sample``."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from lodestarch.common.findings import Finding
from lodestarch.control.own_pairs import OWN_PAIRS
from lodestarch.precision.pairs import clean_pairs
from lodestarch.sheets.plain_columns import placed, read_columns

__all__ = ["ReadPairs", "read_pairs_sheet"]


@dataclass(frozen=True, slots=True)
class ReadPairs:
    """Usable pairs, in ``control.own_pairs.OWN_PAIRS``; what is left out has a finding."""

    frame: pl.DataFrame
    findings: tuple[Finding, ...]


def read_pairs_sheet(data: bytes, name: str) -> ReadPairs:
    """Read a file of duplicates, CSV or xlsx; never raises on its content.

    Parameters
    ----------
    data : bytes
    name : str
        File name, for findings.
    """
    columns = read_columns(
        data, name, texts=("sample",), seconds=("first", "second"), required=("first", "second")
    )
    if not columns.has("first") or not columns.has("second"):
        return ReadPairs(pl.DataFrame(schema=OWN_PAIRS), columns.findings)
    names = [s or "" for s in columns.texts["sample"]] if columns.has("sample") else None
    pairs = clean_pairs(
        columns.numbers["first"],
        columns.numbers["second"],
        first_kind=columns.kinds["first"],
        second_kind=columns.kinds["second"],
        names=names,
    )
    frame = pl.DataFrame(
        {
            "sample": [names[i] if names else None for i in pairs.row],
            "first_s": pairs.first_s,
            "second_s": pairs.second_s,
            "first_kind": pairs.first_kind,
            "second_kind": pairs.second_kind,
        },
        schema=OWN_PAIRS,
    )
    return ReadPairs(frame, (*columns.findings, *placed(pairs.findings, columns)))
