"""The lab's own blends, a row a lot that went in.

Columns: ``blend, seconds, mass, measured_s``; ``moisture_pct`` if known.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.method.blend import Lot
from lodestarch.method.reading import Kind, parse_seconds
from lodestarch.season.blends import MeasuredBlend
from lodestarch.season.table import FLOOR_S
from lodestarch.sheets.columns import Form
from lodestarch.sheets.season_sheet import read_rows

__all__ = ["BlendSheet", "read_blends"]

_MASSES: Final = ("mass", "tonnes", "mass_t", "share", "share_pct", "mass_kg")


@dataclass(frozen=True, slots=True)
class BlendSheet:
    """Blends as read, in the order met.

    Parameters
    ----------
    blends : tuple of MeasuredBlend
    findings : tuple of Finding
    """

    blends: tuple[MeasuredBlend, ...]
    findings: tuple[Finding, ...]


def read_blends(data: bytes, name: str, *, floor_s: float | None = FLOOR_S) -> BlendSheet:
    """Read blends; never raises on their content.

    Parameters
    ----------
    data : bytes
        CSV or xlsx.
    name : str
        For findings.
    floor_s : float or None
        At or below it seconds are a bound. [s]

    Returns
    -------
    BlendSheet
        With ``season-blend-cell`` (a cell that cannot be read; its blend is left out),
        ``season-blend-measured`` (a blend whose measured seconds are missing or stated twice differently).
    """
    forms = {"blend": Form.KEY, "seconds": Form.SECONDS}
    frame, findings = read_rows(data, name, forms, ["blend", "seconds", "measured_s"])
    if frame is None:
        return BlendSheet((), findings)
    found = list(findings)
    mass_column = next((m for m in _MASSES if m in frame.columns), None)
    lots: dict[str, list[Lot]] = {}
    read: dict[str, set[str]] = {}
    spoilt: set[str] = set()
    for row in frame.to_dicts():
        key = str(row["blend"])
        mass = 1.0 if mass_column is None else _number(row[mass_column])
        moisture = _number(row.get("moisture_pct"))
        if mass is None or row["seconds"] is None:
            where = Where(source=name, row=row["row"], field=mass_column if mass is None else "seconds")
            found.append(Finding("season-blend-cell", where, Severity.STOP, {"blend": key}))
            spoilt.add(key)
            continue
        kind = Kind(int(row["kind"]))
        if floor_s is not None and kind is Kind.EXACT and row["seconds"] <= floor_s:
            kind = Kind.AT_OR_BELOW
        lots.setdefault(key, []).append(Lot(row["seconds"], mass, kind, moisture))
        if row["measured_s"]:
            read.setdefault(key, set()).add(str(row["measured_s"]).strip())
    blends = []
    for key, parts in lots.items():
        said = [parse_seconds(t) for t in read.get(key, ())]
        if key in spoilt:
            continue
        if len(said) != 1 or said[0] is None:
            told: dict[str, Value] = {"blend": key, "count": len(said)}
            found.append(Finding("season-blend-measured", Where(source=name), Severity.STOP, told))
            continue
        one = said[0]
        kind = one.kind
        if floor_s is not None and kind is Kind.EXACT and one.value_s <= floor_s:
            kind = Kind.AT_OR_BELOW
        blends.append(MeasuredBlend(key, tuple(parts), one.value_s, kind))
    return BlendSheet(tuple(blends), tuple(found))


def _number(text: str | None) -> float | None:
    try:
        return None if text is None or not str(text).strip() else float(str(text).replace(",", "."))
    except ValueError:
        return None
