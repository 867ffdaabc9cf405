"""Reports from files: what each needs of its columns, and which room answers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

from lodestarch.common.findings import Finding, in_order
from lodestarch.common.nomenclature import legal_range
from lodestarch.control.chart_report import ChartReport, read_charts
from lodestarch.control.comparison import Comparison, compare
from lodestarch.control.duplicates import LEVELS_S, DuplicateReport, read_duplicates
from lodestarch.control.ring_report import RingReport, ring_test
from lodestarch.method.reading import Kind
from lodestarch.precision.components import Components, fit_components
from lodestarch.sheets.plain_columns import PlainColumns, headers_of, placed, read_columns

LEAST_S, MOST_S = legal_range("seconds")

__all__ = [
    "Answer", "chart_file", "comparison_file", "components_file", "duplicates_file", "exact_pairs",
    "ring_file", "value_column",
]  # fmt: skip

Report = TypeVar("Report")


@dataclass(frozen=True, slots=True)
class Answer(Generic[Report]):
    """A report with everything that was met on the way.

    Parameters
    ----------
    report : object or None
        ``None``: the file could not be read.
    columns : PlainColumns
    findings : tuple of Finding
    """

    report: Report | None
    columns: PlainColumns
    findings: tuple[Finding, ...]


def duplicates_file(
    data: bytes, name: str, *, probability: float = 0.95, at_s: Sequence[float] = LEVELS_S
) -> Answer[DuplicateReport]:
    """Read duplicates: ``first``, ``second`` and, where there, ``sample``.

    Parameters
    ----------
    data : bytes
    name : str
        File name.
    probability : float
        Of the agreement limits.
    at_s : sequence of float
        Levels to report. [s]
    """
    columns = read_columns(
        data, name, texts=("sample",), seconds=("first", "second"), required=("first", "second")
    )
    if not columns.has("first") or not columns.has("second"):
        return Answer(None, columns, columns.findings)
    names = [s or "" for s in columns.texts["sample"]] if columns.has("sample") else None
    report = read_duplicates(
        columns.numbers["first"],
        columns.numbers["second"],
        first_kind=columns.kinds["first"],
        second_kind=columns.kinds["second"],
        names=names,
        probability=probability,
        at_s=at_s,
    )
    return _answer(report, columns, report.findings)


def exact_pairs(columns: PlainColumns) -> tuple[list[float], list[float]]:
    """Return level and gap of the pairs with both tubes exact, for a picture. [s]"""
    rows = zip(
        columns.numbers["first"], columns.numbers["second"], columns.kinds["first"], columns.kinds["second"],
        strict=True,
    )  # fmt: skip
    both = [
        (a, b)
        for a, b, j, k in rows
        if j == k == Kind.EXACT and all(LEAST_S <= seconds <= MOST_S for seconds in (a, b))
    ]
    return [0.5 * (a + b) for a, b in both], [abs(a - b) for a, b in both]


def ring_file(data: bytes, name: str) -> Answer[RingReport]:
    """Read a ring test: ``lab``, ``value`` and, where there, ``material``, ``u``; a row a determination."""
    columns = read_columns(
        data, name, texts=("lab", "material"), numbers=("value", "u"), required=("lab", "value")
    )
    if not columns.has("lab") or not columns.has("value"):
        return Answer(None, columns, columns.findings)
    report = ring_test(
        [lab or "" for lab in columns.texts["lab"]],
        columns.numbers["value"],
        [m or "" for m in columns.texts["material"]] if columns.has("material") else None,
        u=columns.numbers.get("u"),
    )
    return _answer(report, columns, report.findings)


def chart_file(data: bytes, name: str, *, baseline: int | None = None) -> Answer[ChartReport]:
    """Read check results: ``value`` and, where there, ``when``, ``material``, ``target``.

    Parameters
    ----------
    data : bytes
    name : str
    baseline : int, optional
        First values of each material that set its centre and SD; all when left out.
    """
    columns = read_columns(
        data, name, texts=("when", "material"), numbers=("value", "target"), required=("value",)
    )
    if not columns.has("value"):
        return Answer(None, columns, columns.findings)
    report = read_charts(
        columns.numbers["value"],
        when=columns.texts.get("when"),
        material=[m or "" for m in columns.texts["material"]] if columns.has("material") else None,
        target=columns.numbers.get("target"),
        baseline=baseline,
    )
    return _answer(report, columns, report.findings)


def comparison_file(
    data: bytes, name: str, *, margin: float | None = None, ratio: float = 1.0, probability: float = 0.95
) -> Answer[Comparison]:
    """Read paired results: ``a``, ``b`` and, where there, ``sample``, ``u_a``, ``u_b``."""
    columns = read_columns(
        data, name, texts=("sample",), numbers=("a", "b", "u_a", "u_b"), required=("a", "b")
    )
    if not columns.has("a") or not columns.has("b"):
        return Answer(None, columns, columns.findings)
    report = compare(
        columns.numbers["a"],
        columns.numbers["b"],
        u_a=columns.numbers.get("u_a"),
        u_b=columns.numbers.get("u_b"),
        margin=margin,
        ratio=ratio,
        probability=probability,
    )
    return _answer(report, columns, report.findings)


def components_file(
    data: bytes, name: str, factors: Sequence[str], *, value: str | None = None, probability: float = 0.95
) -> Answer[Components]:
    """Read nested values.

    Parameters
    ----------
    data : bytes
    name : str
    factors : sequence of str
        Columns of the nesting, outermost first.
    value : str, optional
        Column of the values: ``value`` where the sheet has one, otherwise its last other column.
    probability : float
    """
    value = value or value_column(data, name, factors)
    columns = read_columns(data, name, texts=factors, numbers=(value,), required=(*factors, value))
    # Other columns of the file are no concern of this question.
    kept = tuple(f for f in columns.findings if f.code != "sheet-column-unknown")
    if not columns.has(value) or not all(columns.has(f) for f in factors):
        return Answer(None, columns, kept)
    labels = [[label or "" for label in columns.texts[f]] for f in factors]
    report = fit_components(columns.numbers[value], labels, list(factors), probability=probability)
    findings = in_order((*kept, *placed(report.findings, columns)))
    return Answer(report, columns, findings)


def value_column(data: bytes, name: str, factors: Sequence[str]) -> str:
    """Return the column of the values: ``value`` where the sheet has one, otherwise its last other column."""
    others = headers_of(data, name, factors)
    return next((h for h in others if h.casefold() == "value"), others[-1] if others else "value")


def _answer(report: Report, columns: PlainColumns, findings: tuple[Finding, ...]) -> Answer[Report]:
    return Answer(report, columns, in_order((*columns.findings, *placed(findings, columns))))
