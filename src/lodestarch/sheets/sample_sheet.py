"""The sample sheet: a row a sample, with whose it is, how it came, and how it was ground and measured."""

from __future__ import annotations

from collections.abc import Mapping

from lodestarch.method.table import SAMPLES
from lodestarch.sheets.account import ReadSheet
from lodestarch.sheets.columns import SAMPLE
from lodestarch.sheets.keys import refuse_twins
from lodestarch.sheets.take import account, no_sheet, open_sheet

__all__ = ["read_sample_sheet"]


def read_sample_sheet(data: bytes, name: str, *, mapping: Mapping[str, str] | None = None) -> ReadSheet:
    r"""Read a sample sheet; never raises on its content.

    Parameters
    ----------
    data : bytes
        CSV (comma, semicolon or tab) or xlsx, told apart by content.
    name : str
        File name, for findings.
    mapping : mapping of str to str, optional
        Header names of another program and ours that they stand for (see ``mapping``).

    Returns
    -------
    ReadSheet
        Rows taken in ``method.table.SAMPLES``; an empty kind stays empty.

    Examples
    --------
    >>> sheet = read_sample_sheet(b"sample;kind;tonnes\n8814;Load;28,4\n", "samples.csv")
    >>> sheet.frame["tonnes"].to_list(), sheet.frame["kind"].to_list()
    ([28.4], ['load'])
    """
    table = open_sheet(data, name, SAMPLE, mapping)
    if isinstance(table, tuple):
        return no_sheet(data, name, SAMPLES, table)
    refuse_twins(table, ("sample",), differing="row-sample-twice")
    return account(table, table.frame, SAMPLES)
