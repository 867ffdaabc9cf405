"""Fields that still stand, a row a field: ``field, tonnes, hours``, and what is known of each.

More columns: ``early_s`` with ``u_early_s`` (how well the early sample stands for the field), ``variety``,
``ripe`` (yes or no; yes where empty).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.season.harvest_order import FieldState
from lodestarch.sheets.legal_numbers import legal_numbers
from lodestarch.sheets.season_sheet import read_rows

__all__ = ["FieldSheet", "read_fields"]

_LEGAL: Final = {
    "tonnes": (0.01, 1e6),
    "hours": (0.01, 1e4),
    "early_s": (1.0, 3000.0),
    "u_early_s": (0.1, 500.0),
}
_NEEDED: Final = ("tonnes", "hours")
_RIPE: Final = {
    "": True, "yes": True, "y": True, "1": True, "true": True,
    "no": False, "n": False, "0": False, "false": False,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class FieldSheet:
    """Fields as read, each with its variety (empty where not stated)."""

    fields: tuple[FieldState, ...]
    varieties: tuple[str, ...]
    findings: tuple[Finding, ...]


def read_fields(data: bytes, name: str) -> FieldSheet:
    """Read standing fields; never raises on their content.

    Returns
    -------
    FieldSheet
        With ``season-field-cell`` (a row left out because a cell cannot be read) and ``season-field-twice``.
    """
    frame, findings = read_rows(data, name, {}, ["field", *_NEEDED])
    if frame is None:
        return FieldSheet((), (), findings)
    found, out, kinds = list(findings), list[FieldState](), list[str]()
    for row in frame.to_dicts():
        numbers, wrong = legal_numbers(row, _LEGAL, _NEEDED)
        ripe = _RIPE.get(str(row.get("ripe") or "").strip().casefold())
        label = str(row.get("field") or "").strip()
        wrong = wrong or ("" if ripe is not None else "ripe") or ("" if label else "field")
        where = Where(source=name, row=int(row["row"]), field=wrong or "field")
        if wrong or ripe is None:
            told: dict[str, Value] = {"text": str(row.get(wrong) or "")[:40], "column": wrong}
            found.append(Finding("season-field-cell", where, Severity.STOP, told))
        elif any(f.name == label for f in out):
            found.append(Finding("season-field-twice", where, Severity.STOP, {"field_name": label}))
        else:
            out.append(
                FieldState(
                    label, numbers["tonnes"], numbers["hours"], numbers.get("early_s"),
                    numbers.get("u_early_s"), None, ripe,
                )
            )  # fmt: skip
            kinds.append(str(row.get("variety") or "").strip())
    return FieldSheet(tuple(out), tuple(kinds), tuple(found))
