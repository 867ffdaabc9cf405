"""Lots that were tested a second time, a row a lot: the odds that were told, and what the second test found.

Columns: ``limit_s, found_s`` and either ``odds_pct`` or ``first_s`` with ``u_s``; ``sample``, ``lab`` (empty
or ``here``: the own bench) and ``lab_sd_s`` where known.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.method.reading import parse_seconds
from lodestarch.season.told_odds import HERE, Outcome
from lodestarch.sheets.legal_numbers import legal_numbers
from lodestarch.sheets.season_sheet import read_rows

__all__ = ["OutcomeSheet", "read_outcomes"]

_LEGAL: Final = {"limit_s": (51.0, 1200.0), "odds_pct": (0.0, 100.0), "first_s": (1.0, 3000.0),
                 "u_s": (0.01, 500.0), "lab_sd_s": (0.0, 500.0)}  # fmt: skip


@dataclass(frozen=True, slots=True)
class OutcomeSheet:
    """Lots as read, in the order met."""

    outcomes: tuple[Outcome, ...]
    findings: tuple[Finding, ...]


def read_outcomes(data: bytes, name: str) -> OutcomeSheet:
    """Read second tests; never raises on their content.

    Parameters
    ----------
    data : bytes
        CSV or xlsx.
    name : str
        For findings.

    Returns
    -------
    OutcomeSheet
        With ``season-outcome-cell`` for a row that is left out because a cell of it cannot be read or lies
        where no such value can.
    """
    frame, findings = read_rows(data, name, {}, ["limit_s", "found_s"])
    if frame is None:
        return OutcomeSheet((), findings)
    found, out = list(findings), []
    for row in frame.to_dicts():
        numbers, wrong = legal_numbers(row, _LEGAL, ("limit_s",))
        second = parse_seconds(str(row["found_s"] or ""))
        if second is None:
            wrong = wrong or "found_s"
        if wrong or second is None:
            told: dict[str, Value] = {"text": str(row.get(wrong) or "")[:40], "column": wrong}
            where = Where(source=name, row=int(row["row"]), field=wrong)
            found.append(Finding("season-outcome-cell", where, Severity.STOP, told))
            continue
        lab = str(row.get("lab") or "").strip() or HERE
        odds = numbers.get("odds_pct")
        sample = str(row.get("sample") or f"row {row['row']}")
        out.append(
            Outcome(
                sample, numbers["limit_s"], second.value_s, second.kind,
                HERE if lab.casefold() == HERE else lab, None if odds is None else odds / 100.0,
                numbers.get("first_s"), numbers.get("u_s"), numbers.get("lab_sd_s"), int(row["row"]),
            )
        )  # fmt: skip
    return OutcomeSheet(tuple(out), tuple(found))
