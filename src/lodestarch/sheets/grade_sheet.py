"""The grade sheet: a row a sample, a column for every other factor that is known of it.

Columns: ``sample`` and the factors of ``docs/terms.md`` but the falling number, under their own names.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.sheets.columns import Column, Form
from lodestarch.sheets.take import open_sheet
from lodestarch.sheets.typed import typed_number
from lodestarch.trade.factors import FACTORS

__all__ = ["GRADE", "ReadGrades", "read_grade_sheet"]

_FACTORS: Final = tuple(key for key in FACTORS if key != "fn_s")
GRADE: Final = (Column("sample", Form.KEY, required=True), *(Column(key, Form.TEXT) for key in _FACTORS))


@dataclass(frozen=True, slots=True)
class ReadGrades:
    """Factors by sample; a cell that could not be read is left out, with a finding."""

    by_sample: dict[str, dict[str, float]]
    findings: tuple[Finding, ...]


def read_grade_sheet(data: bytes, name: str, *, mapping: Mapping[str, str] | None = None) -> ReadGrades:
    r"""Read a grade sheet; never raises on its content.

    Parameters
    ----------
    data : bytes
        CSV or xlsx, told apart by content.
    name : str
        File name, for findings.
    mapping : mapping of str to str, optional
        Header names of other sheets and ours that they stand for.

    Examples
    --------
    >>> read_grade_sheet(b"sample,moisture_pct,don_mg_kg\n8814,13.2,\n", "grades.csv").by_sample
    {'8814': {'moisture_pct': 13.2}}
    """
    table = open_sheet(data, name, GRADE, mapping)
    if isinstance(table, tuple):
        return ReadGrades({}, table)
    found = list(table.findings)
    by_sample: dict[str, dict[str, float]] = {}
    taken = table.taken()
    for row in table.frame.filter(taken).iter_rows(named=True):
        if row["sample"] is None:
            continue
        own = by_sample.setdefault(row["sample"], {})
        for key in _FACTORS:
            text = row.get(key)
            if not text:
                continue
            where = Where(source=name, row=row["row"], field=key, sample=row["sample"])
            value = _value(key, text, where)
            if isinstance(value, Finding):
                found.append(value)
            else:
                own[key] = value
    return ReadGrades(by_sample, tuple(found))


def _value(key: str, text: str, where: Where) -> float | Finding:
    factor = FACTORS[key]
    value = typed_number(text)
    if value is None or not factor.low <= value <= factor.high:
        values: dict[str, Value] = {
            "text": text[:40], "factor": key, "low": factor.low, "high": factor.high, "unit": factor.unit,
        }  # fmt: skip
        return Finding("grade-not-taken", where, Severity.CHECK, values)
    return value
