"""Districts by week: how many results there are, how many lie under a limit, and where nothing was tested.

A cell without results stays empty: nothing is filled in from its neighbours.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

import numpy as np

from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.method.reading import Kind
from lodestarch.precision.nesting import Index
from lodestarch.season.table import NO_DATE, SeasonTable

__all__ = ["MOST_WEEKS", "Board", "BoardCell", "board_of", "monday_of", "under_limit", "year_of"]

MOST_WEEKS: Final = 26
"""Weeks of all seasons that are shown together (a choice of ours: half a year on one screen)."""


@dataclass(frozen=True, slots=True)
class BoardCell:
    """One district in one week.

    Parameters
    ----------
    results : int
        At least 1.
    under : int
        Of these, known to lie under the limit.
    unknown : int
        Of these, bounds that do not say on which side of the limit they lie.
    mean_s, low_s, high_s : float
        Mean, least and greatest, bounds taken at their bound. [s]
    """

    results: int
    under: int
    unknown: int
    mean_s: float
    low_s: float
    high_s: float


@dataclass(frozen=True, slots=True)
class Board:
    """A row a district, a column a week.

    Parameters
    ----------
    factor : str
        What the rows are; empty where there is no such column.
    places : tuple of str
        Rows, by name.
    weeks : tuple of int
        Mondays as days since 1970-01-01, those with results only.
    cells : tuple of tuple of (BoardCell or None)
        By row, then column.
    totals : tuple of BoardCell
        By row.
    season : int or None
        Year that is shown; ``None``: all.
    seasons : tuple of int
        Years with results.
    limit_s : float
    findings : tuple of Finding
    """

    factor: str
    places: tuple[str, ...]
    weeks: tuple[int, ...]
    cells: tuple[tuple[BoardCell | None, ...], ...]
    totals: tuple[BoardCell, ...]
    season: int | None
    seasons: tuple[int, ...]
    limit_s: float
    findings: tuple[Finding, ...]


def monday_of(day: Index) -> Index:
    """Monday of the week of each day.

    Examples
    --------
    >>> monday_of(np.array([0, 4, 10807])).tolist()  # 1970-01-01 was a Thursday
    [-3, 4, 10805]
    """
    return np.asarray(day - (day + 3) % 7, dtype=np.int64)


def year_of(day: Index) -> Index:
    """Calendar year of each day."""
    return np.asarray(day.astype("datetime64[D]").astype("datetime64[Y]").astype(np.int64) + 1970)


def under_limit(table: SeasonTable, limit_s: float) -> tuple[np.ndarray, np.ndarray]:
    """Which results lie under a limit, and which do not say.

    Returns
    -------
    under, unknown : ndarray of bool
        "At or below 62" lies under 250; "above 200" does not say.
    """
    below, above = table.kind == Kind.AT_OR_BELOW.value, table.kind == Kind.ABOVE.value
    under = np.where(above, False, table.seconds_s < limit_s)
    unknown = (above & (table.seconds_s < limit_s)) | (below & (table.seconds_s >= limit_s))
    return under & ~unknown, unknown


def board_of(table: SeasonTable, factor: str, *, limit_s: float, season: int | None = None) -> Board:
    """Lay results out by district and week.

    Parameters
    ----------
    table : SeasonTable
    factor : str
        What the rows are: district, field, plot. Empty: one row for all.
    limit_s : float
        [s]
    season : int, optional
        Year to show; the latest where all together have more than :data:`MOST_WEEKS` weeks.

    Returns
    -------
    Board
        With ``season-board-dates`` (no result has a harvest date: nothing to lay out),
        ``season-board-one-season`` (only the latest is shown), ``season-board-season`` (a year without
        results was asked for), ``season-board-left-out`` (results without date or district).
    """
    where = Where(source=table.source or None)
    placed = table.has(factor)
    codes = table.factor(factor).codes if placed else np.zeros(table.n, np.int64)
    good = np.isfinite(table.seconds_s) & (table.day != NO_DATE) & (codes >= 0)
    found: list[Finding] = []
    if not good.any():
        found.append(Finding("season-board-dates", where, Severity.CHECK, {}))
        return Board(factor if placed else "", (), (), (), (), None, (), limit_s, tuple(found))
    if left := int(table.n - good.sum()):
        found.append(Finding("season-board-left-out", where, Severity.CHECK, {"count": left}))
    years = year_of(table.day)
    seasons = tuple(int(y) for y in np.unique(years[good]))
    shown = season
    if season is not None and season not in seasons:
        told: dict[str, Value] = {"season": season, "seasons": ", ".join(map(str, seasons))}
        found.append(Finding("season-board-season", where, Severity.CHECK, told))
        shown = None
    if shown is None and len(seasons) > 1 and np.unique(monday_of(table.day[good])).size > MOST_WEEKS:
        shown = seasons[-1]
        told = {"season": shown, "count": len(seasons)}
        found.append(Finding("season-board-one-season", where, Severity.NOTE, told))
    if shown is not None:
        good &= years == shown
    return _laid_out(table, factor if placed else "", codes, good, limit_s, shown, seasons, tuple(found))


def _natural(label: str) -> list[tuple[int, int, str]]:
    """What orders names as people do: 2 before 10."""
    parts = re.split(r"(\d{1,15})", label)
    return [(0, int(p), "") if p.isascii() and p.isdigit() else (1, 0, p.casefold()) for p in parts if p]


def _laid_out(
    table: SeasonTable, factor: str, codes: Index, good: np.ndarray, limit_s: float, season: int | None,
    seasons: tuple[int, ...], found: tuple[Finding, ...],
) -> Board:  # fmt: skip
    part = table.at(good)
    weeks, column = np.unique(monday_of(part.day), return_inverse=True)
    labels = table.factor(factor).labels if factor else ("",)
    met_codes = sorted(np.unique(codes[good]).tolist(), key=lambda c: _natural(labels[c]))
    rank = np.zeros(max(met_codes) + 1, dtype=np.int64)
    rank[met_codes] = np.arange(len(met_codes))
    rows, row = np.asarray(met_codes), rank[codes[good]]
    under, unknown = under_limit(part, limit_s)

    def cell(mine: np.ndarray) -> BoardCell:
        s = part.seconds_s[mine]
        return BoardCell(
            int(s.size), int(under[mine].sum()), int(unknown[mine].sum()), float(s.mean()), float(s.min()),
            float(s.max()),
        )  # fmt: skip

    key = row * weeks.size + column.ravel()
    order = np.argsort(key, kind="stable")
    met, start = np.unique(key[order], return_index=True)
    grid: list[list[BoardCell | None]] = [[None] * weeks.size for _ in rows]
    for k, mine in zip(met, np.split(order, start[1:]), strict=True):
        grid[int(k) // weeks.size][int(k) % weeks.size] = cell(mine)
    totals = [cell(np.flatnonzero(row == i)) for i in range(rows.size)]
    return Board(
        factor, tuple(labels[int(r)] for r in rows), tuple(int(w) for w in weeks),
        tuple(tuple(line) for line in grid), tuple(totals), season, seasons, limit_s, found,
    )  # fmt: skip
