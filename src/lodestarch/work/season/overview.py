"""The season on one page: everything that one table, or the records, say, each part with its own silence."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.method.blend import CAP_S
from lodestarch.season.board import Board, board_of
from lodestarch.season.effects import Effects, fit_effects
from lodestarch.season.performance import Performance, performance
from lodestarch.season.ratings import Ratings
from lodestarch.sheets.season_kind import SeasonKind, kind_of
from lodestarch.sheets.season_sheet import SeasonSheet
from lodestarch.work.season.answers import (
    BlendAnswer,
    FaultAnswer,
    IndicatorAnswer,
    blends_of,
    faults_of,
    indicators_of,
    ratings_of,
)
from lodestarch.work.season.asked import SeasonAsked, from_file, from_kept
from lodestarch.work.season.kept import KeptSeason
from lodestarch.work.season.outcomes import (
    OrderAnswer,
    PriorAnswer,
    ToldAnswer,
    factor_of_role,
    order_of,
    priors_of,
    told_of_file,
    told_of_records,
)

__all__ = ["OverviewAsked", "SeasonOverview", "overview"]

NamedFile = tuple[str, bytes]

_BENCH_ROLES: Final = ("bench", "analyst")


@dataclass(frozen=True, slots=True)
class OverviewAsked:
    """What the page was asked.

    Parameters
    ----------
    limit_s : float
        Limit that matters to the user. [s]
    probability : float
        Content of the intervals. [1]
    season : int or None
        Year of the board; ``None``: all, or the latest where they are many.
    sheet : SeasonAsked
        How the table is read.
    """

    limit_s: float = 250.0
    probability: float = 0.95
    season: int | None = None
    sheet: SeasonAsked = field(default_factory=SeasonAsked)


@dataclass(frozen=True, slots=True)
class SeasonOverview:
    """Every part of the page; what nothing is known for is ``None``.

    ``row_names`` are samples of rows that a fault is about, where samples are known;
    ``findings`` are those of the table and of files beside it, each told once; faults have their own.
    """

    asked: OverviewAsked
    source: str
    beside: tuple[str, ...]
    results: int
    board: Board | None
    ratings: tuple[Ratings, ...]
    effects: Effects | None
    bench_share: float | None
    told: ToldAnswer | None
    priors: PriorAnswer | None
    blends: BlendAnswer | None
    order: OrderAnswer | None
    lab: Performance | None
    faults: FaultAnswer
    row_names: Mapping[int, str]
    weather: IndicatorAnswer | None
    demonstration: bool
    findings: tuple[Finding, ...]


def overview(
    asked: OverviewAsked, files: Sequence[NamedFile] = (), kept: KeptSeason | None = None
) -> SeasonOverview:
    """Put the page together.

    Parameters
    ----------
    asked : OverviewAsked
    files : sequence of (str, bytes)
        Dropped in: a table of results stands in place of the records, everything else beside it.
    kept : KeptSeason or None
        What the records hold; ``None`` where there are none.

    Returns
    -------
    SeasonOverview
        With ``season-page-file`` (an empty file), ``season-page-twice`` (a second file of one kind).
    """
    found: list[Finding] = []
    by_kind = _sorted(files, found)
    own = by_kind.get(SeasonKind.RESULTS)
    if own:
        sheet, source = from_file(own[0][1], own[0][0], asked.sheet), own[0][0]
    elif kept is not None:
        sheet, source = from_kept(kept, asked.sheet), "records"
    else:
        sheet, source = _no_sheet(), ""
    table = sheet.table
    fitted = None if table is None else fit_effects(table, probability=asked.probability)
    place, variety = factor_of_role(sheet, "origin"), factor_of_role(sheet, "variety")
    named = [n for n in (variety, place) if n]
    rated = ratings_of(
        sheet, of=named, limit_s=asked.limit_s, probability=asked.probability, fitted=fitted
    ).ratings if named else ()  # fmt: skip
    board = None if table is None else board_of(table, place, limit_s=asked.limit_s, season=asked.season)
    blends, told, order, weather = _beside(asked, by_kind, sheet, kept if not own else None)
    priors = None if table is None or table.n == 0 else priors_of(sheet, {})
    lab = None if kept is None or own else performance(kept.tested, kept.checks_off)
    parts: list[tuple[Finding, ...]] = [tuple(found), sheet.findings]
    parts += [p.findings for p in (fitted, board, *rated, blends, told, order, weather, priors, lab) if p]
    faults = faults_of(sheet)
    beside = (n for k, some in by_kind.items() if k is not SeasonKind.RESULTS for n, _ in some)
    invented = kept is not None and not own and kept.demonstration
    return SeasonOverview(
        asked, source, tuple(beside), 0 if table is None else table.n, board, tuple(rated), fitted,
        _bench_share(fitted, sheet), told, priors, blends, order, lab, faults,
        _row_names(faults, sheet), weather, invented,
        _once(parts, sheet),
    )  # fmt: skip


def _no_sheet() -> SeasonSheet:
    import polars as pl  # noqa: PLC0415  # an empty frame, where there is nothing else

    return SeasonSheet(None, "", "", "", pl.DataFrame(), ())


def _sorted(files: Sequence[NamedFile], found: list[Finding]) -> dict[SeasonKind, list[NamedFile]]:
    """Files by what they are; weather may come in two, of everything else one is read."""
    out: dict[SeasonKind, list[NamedFile]] = {}
    for name, data in files:
        where = Where(source=name)
        if not data.strip():
            found.append(Finding("season-page-file", where, Severity.STOP, {"name": name}))
            continue
        kind = kind_of(data, name)
        if len(out.get(kind, ())) >= (2 if kind is SeasonKind.WEATHER else 1):
            found.append(Finding("season-page-twice", where, Severity.CHECK, {"name": name}))
            continue
        out.setdefault(kind, []).append((name, data))
    return out


def _beside(
    asked: OverviewAsked, by_kind: dict[SeasonKind, list[NamedFile]], sheet: SeasonSheet,
    kept: KeptSeason | None,
) -> tuple[BlendAnswer | None, ToldAnswer | None, OrderAnswer | None, IndicatorAnswer | None]:  # fmt: skip
    """Own blends, second tests, fields and weather, where there is a file or the records know."""
    floor = asked.sheet.floor_s
    blends = told = order = weather = None
    for name, data in by_kind.get(SeasonKind.BLENDS, ()):
        blends = blends_of(data, name, cap_s=CAP_S, floor_s=floor)
    for name, data in by_kind.get(SeasonKind.OUTCOMES, ()):
        told = told_of_file(data, name)
    if told is None and kept is not None:
        mine = told_of_records(kept, asked.limit_s)
        told = mine if mine.record.lines or mine.record.findings[:-1] else None
    for name, data in by_kind.get(SeasonKind.FIELDS, ()):
        order = order_of(data, name, sheet if sheet.table is not None else None, limit_s=asked.limit_s)
    if (files := by_kind.get(SeasonKind.WEATHER)) and sheet.table is not None:
        weather = indicators_of(sheet, [(n, d) for n, d in files])
    return blends, told, order, weather


def _row_names(faults: FaultAnswer, sheet: SeasonSheet) -> dict[int, str]:
    """Samples of the rows that stand in a fault."""
    if sheet.table is None or "sample" not in sheet.texts.columns:
        return {}
    met = {row for f in faults.faults for row in f.rows}
    names = zip(sheet.table.row.tolist(), sheet.texts["sample"].to_list(), strict=True)
    return {row: name for row, name in names if row in met and name}


def _bench_share(fitted: Effects | None, sheet: SeasonSheet) -> float | None:
    """Part of the variance that goes with baths and analysts."""
    names = {n for role in _BENCH_ROLES if (n := factor_of_role(sheet, role))}
    shares = [e.share for e in fitted.effects if e.name in names] if fitted else []
    return sum(shares) if shares else None


def _once(parts: Sequence[tuple[Finding, ...]], sheet: SeasonSheet) -> tuple[Finding, ...]:
    """Findings in order, each told once; without dates there is no year and no week either."""
    out: list[Finding] = []
    undated = any(f.code == "season-dates-missing" for part in parts for f in part)
    of_dates = {sheet.year, sheet.week}
    for f in (f for part in parts for f in part):
        if undated and f.code == "season-level-missing" and f.values["factor"] in of_dates:
            continue
        if not any(f.code == g.code and f.where == g.where and dict(f.values) == dict(g.values) for g in out):
            out.append(f)
    return tuple(out)
