"""A lab's own runs, a row a tube, for fitting the tube model: lots, readings, and how each was run.

Columns: ``lot`` and ``seconds`` are needed. ``u_s`` is the standard uncertainty of the reading; ``activity``,
``ln`` or ``parts`` say what is known of the lot's enzyme (0 for runs with an inhibitor; ``parts`` names lots
with shares, ``A:0.6 B:0.4``). ``mass_g``, ``moisture_pct``, ``water_ml``, ``start_temp_c``, ``pressure_hpa``,
``wall_mm``, ``stir_from_s`` and ``origin`` say how it was run; what is left empty is the standard tube's.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any, Final

from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.method.reading import Kind
from lodestarch.method.scatter import ScatterLaw
from lodestarch.sheets.columns import Column, Form
from lodestarch.sheets.take import open_sheet
from lodestarch.tube.calibration.observations import Lot, Observation
from lodestarch.tube.inputs import TubeInputs

__all__ = ["COLUMNS", "TubeRuns", "read_tube_runs"]

_HOW: Final = ("mass_g", "moisture_pct", "water_ml", "start_temp_c", "pressure_hpa", "wall_mm", "stir_from_s")
_NUMBERS: Final = ("u_s", "activity", "ln", *_HOW)
COLUMNS: Final = (
    Column("lot", Form.KEY, required=True),
    Column("seconds", Form.SECONDS, required=True),
    *(Column(name, Form.TEXT) for name in ("u_s", "activity", "ln", "parts", *_HOW, "origin")),
)
"""A row a tube."""

_NUMBER: Final = re.compile(r"^[+-]?\d{1,9}(?:[.,]\d{1,12})?$")
_PART: Final = re.compile(r"^(?P<lot>[^:]+):(?P<share>\d{1,9}(?:[.,]\d{1,12})?)$")


@dataclass(frozen=True, slots=True)
class TubeRuns:
    """Runs as read.

    Parameters
    ----------
    observations : tuple of Observation
        A reading a row taken; named by lot and row.
    lots : tuple of Lot
        In the order met.
    by_law : int
        Readings whose uncertainty was not stated and comes from the law of scatter.
    findings : tuple of Finding
    """

    observations: tuple[Observation, ...]
    lots: tuple[Lot, ...]
    by_law: int
    findings: tuple[Finding, ...]


def read_tube_runs(data: bytes, name: str, scatter: ScatterLaw) -> TubeRuns:
    """Read runs; never raises on their content.

    Parameters
    ----------
    data : bytes
        CSV (comma, semicolon or tab) or xlsx, told apart by content.
    name : str
        File name, for findings.
    scatter : ScatterLaw
        Stands in where a row states no uncertainty.

    Returns
    -------
    TubeRuns
        A row that cannot be read whole is left out with a finding: ``tube-run-cell`` (a number, a share or
        an origin that cannot be read), ``tube-run-lot-differs`` (another row says otherwise of the lot's
        enzyme), ``tube-run-stopped`` (stopped before the end of its fall), or one of the sheet's own.
    """
    table = open_sheet(data, name, COLUMNS, None)
    if isinstance(table, tuple):
        return TubeRuns((), (), 0, table)
    found: list[Finding] = list(table.findings)
    found += [Finding(o.code, Where(source=name, row=o.row), Severity.STOP, o.values) for o in table.grid.odd]
    refused: set[int] = set()
    rows = table.frame.to_dicts()
    for cell in table.cells:
        where = Where(source=name, row=rows[cell.index]["row"], field=cell.column)
        severity = Severity.STOP if cell.refuses else Severity.CHECK
        found.append(Finding(cell.code, where, severity, cell.values))
        if cell.refuses:
            refused.add(cell.index)
    lots: dict[str, Lot] = {}
    kept: list[Observation] = []
    by_law = 0
    for i, row in enumerate(rows):
        if i in refused:
            continue
        made = _observation(row, name, lots, scatter)
        if isinstance(made, Finding):
            found.append(made)
        else:
            kept.append(made)
            by_law += row.get("u_s") is None
    return TubeRuns(tuple(kept), tuple(lots.values()), by_law, tuple(found))


def _observation(
    row: dict[str, Any], source: str, lots: dict[str, Lot], scatter: ScatterLaw
) -> Observation | Finding:
    """One row as a reading, its lot noted; or what stands in the way."""
    at = row["row"]
    numbers: dict[str, float] = {}
    for key in _NUMBERS:
        text = row.get(key)
        if text is None:
            continue
        if not _NUMBER.match(text):
            return _cell(source, at, key, text)
        numbers[key] = float(text.replace(",", "."))
    if row["kind"] == Kind.ABOVE:
        return Finding(
            "tube-run-stopped", Where(source=source, row=at), Severity.CHECK, {"seconds": row["seconds"]}
        )
    parts = _parts(row.get("parts"))
    if parts is None:
        return _cell(source, at, "parts", row["parts"])
    lot = Lot(row["lot"], numbers.get("activity"), numbers.get("ln"), parts)
    before = lots.get(lot.name)
    if before is not None and before.free:
        lots[lot.name] = lot
    elif before is not None and not lot.free and before != lot:
        where = Where(source=source, row=at, sample=lot.name)
        return Finding("tube-run-lot-differs", where, Severity.STOP, {"lot": lot.name})
    else:
        lots.setdefault(lot.name, lot)
    how = {key: numbers[key] for key in _HOW if key in numbers}
    origin = row.get("origin")
    inputs = TubeInputs(activity=0.0, origins=((origin or "germination", 1.0),), **how)
    seconds = float(row["seconds"])
    # The law wants a level that can be; what cannot is told when the runs are looked at.
    u_s = numbers.get("u_s", scatter.sd_s(min(max(seconds, 60.0), 900.0)))
    return Observation(f"{lot.name}, row {at}", lot.name, inputs, seconds, float(u_s))


def _parts(text: str | None) -> tuple[tuple[str, float], ...] | None:
    """Shares of a mix; empty where there is none, ``None`` where the text cannot be read."""
    read = []
    for part in (text or "").split():
        match = _PART.match(part)
        if match is None:
            return None
        read.append((match["lot"], float(match["share"].replace(",", "."))))
    return tuple(read)


def _cell(source: str, row: int, key: str, text: str) -> Finding:
    told: dict[str, Value] = {"value": text, "column": key}
    return Finding("tube-run-cell", Where(source=source, row=row, field=key), Severity.STOP, told)
