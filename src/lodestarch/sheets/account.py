"""What became of every row of a sheet: nothing is lost, nothing is silently dropped."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from lodestarch.common.findings import Finding

__all__ = ["ReadSheet", "RefusedRow"]


@dataclass(frozen=True, slots=True)
class RefusedRow:
    """A row that could not be taken, kept as it was read."""

    row: int
    text: str
    code: str


@dataclass(frozen=True, slots=True)
class ReadSheet:
    """A sheet as read.

    Parameters
    ----------
    name : str
        File name, for findings.
    sha256 : str
        Digest of the bytes.
    frame : polars.DataFrame
        Rows taken, in ``method.table.READINGS`` or ``SAMPLES``.
    refused : tuple of RefusedRow
        Rows not taken; each has a finding.
    findings : tuple of Finding
        In order of rows.
    rows : int
        Data rows met (header and wholly blank lines apart): ``frame.height + len(refused)``.
    """

    name: str
    sha256: str
    frame: pl.DataFrame
    refused: tuple[RefusedRow, ...]
    findings: tuple[Finding, ...]
    rows: int
