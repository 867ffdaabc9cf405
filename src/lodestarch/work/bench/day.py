"""A bench sheet in; results, findings and what the records keep of it out."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

import polars as pl

from lodestarch.common.canonical import sha256_hex
from lodestarch.common.findings import Finding, Severity, Where, in_order
from lodestarch.control.bench_rules import CheckMaterial, bench_findings
from lodestarch.control.check_outcomes import check_outcomes
from lodestarch.control.day_hold import mark_held
from lodestarch.control.own_laws import laws_by_profile
from lodestarch.control.own_pairs import OWN_PAIRS, own_pairs
from lodestarch.control.own_precision import (
    OwnPrecision,
    budget_at,
    own_precision,
    typical_level,
    with_own_u,
)
from lodestarch.control.told_once import told_once
from lodestarch.method.day_counts import count_day
from lodestarch.method.judging import Judged, judge
from lodestarch.method.profile import Profile
from lodestarch.method.reading import State
from lodestarch.method.table import JUDGED, READINGS, SAMPLES, conform, empty
from lodestarch.plan.bin_state import bin_states
from lodestarch.records.engine import Records
from lodestarch.records.unit import Unit, View
from lodestarch.sheets.account import ReadSheet
from lodestarch.sheets.bench_sheet import read_bench_sheet
from lodestarch.sheets.check_materials import read_check_materials
from lodestarch.sheets.grade_sheet import ReadGrades, read_grade_sheet
from lodestarch.sheets.mapping import read_mapping
from lodestarch.sheets.pairs_sheet import ReadPairs, read_pairs_sheet
from lodestarch.sheets.sample_sheet import read_sample_sheet
from lodestarch.sheets.terms import read_terms
from lodestarch.trade.terms import Terms, limits_of
from lodestarch.work.bench.day_hold import hold_of_day
from lodestarch.work.bench.day_kept import parts_of
from lodestarch.work.bench.day_order import DayFile, DayOrder
from lodestarch.work.bench.earlier import Earlier, earlier_days, nothing_earlier
from lodestarch.work.bench.outcome import DayOutcome, SheetAccount
from lodestarch.work.keeping.profiles import ProfileBook, book_of
from lodestarch.work.office.day_prices import prices_of_day
from lodestarch.work.office.terms_kept import read_kept, standing_terms
from lodestarch.work.office.told_prices import TermsSource, tell, told_of_day
from lodestarch.work.people.permissions import unit_for
from lodestarch.work.quality.check_runs import note_sheet_checks
from lodestarch.work.quality.control_records import known_materials

__all__ = ["DayFile", "DayOrder", "run_day"]

_KEY = ("sample", "run", "position")


@dataclass(frozen=True, slots=True)
class _Files:
    bench: ReadSheet
    samples: ReadSheet | None
    materials: tuple[CheckMaterial, ...]
    terms: Terms | None
    grades: ReadGrades | None
    pairs: ReadPairs
    findings: tuple[Finding, ...]
    """On mapping, check materials, terms, grades and earlier pairs."""
    terms_from: TermsSource | None = None
    """Where the terms came from: a file of the order's, or the records."""


@dataclass(frozen=True, slots=True)
class _Known:
    """What the records say about the rows of a sheet."""

    changed: pl.DataFrame
    """Rows that say something else under a kept key: ``row``, key, ``row_text``."""
    again: int
    earlier: pl.DataFrame
    """Readings of the same samples from other sheets, in ``JUDGED``, ``row`` null."""
    kept: pl.DataFrame
    """What stands under the changed keys, in ``JUDGED``, with the sheet's row numbers."""


def run_day(order: DayOrder, *, records: Records | None, person: str, at: datetime) -> DayOutcome:
    """Read, judge and keep one bench sheet.

    Parameters
    ----------
    order : DayOrder
    records : Records or None
        Where to keep it; ``None`` judges without keeping.
    person : str
        Who hands the sheet in.
    at : datetime
        When, with time zone.

    Returns
    -------
    DayOutcome
        Problems in the sheet are findings in it.

    Raises
    ------
    UnknownName
        When ``order.profile`` names no profile.
    Refused
        When the records cannot be written now, or the person may not hand in a sheet.
    """
    files = _read(order)
    if records is None:
        return _outcome(order, files, book_of(None), _nothing_known(), nothing_earlier(), None, at)
    with unit_for(records, person, at, "sheet.store") as unit:
        files = _with_terms(replace(files, materials=_with_kept(files.materials, unit)), unit)
        known = _known(unit, files.bench.frame, take=order.take_changes is not None)
        mine = files.bench.frame["sample"].unique(maintain_order=True).to_list()
        earlier = earlier_days(unit, mine, demonstration=order.demonstration)
        outcome = _outcome(order, files, book_of(unit), known, earlier, unit, at)
        stored = unit.store_day(parts_of(outcome, _offered(outcome, known)), take_changes=order.take_changes)
        note_sheet_checks(unit, outcome.readings, outcome.results, outcome.samples)
        if stored.new:
            # A root at the day's end lets one paper of the day carry a short proof later.
            unit.root()
        if outcome.prices is not None and files.terms_from is not None:
            tell(unit, told_of_day(outcome.prices), files.terms_from, at, day=stored.day_id)
        account = replace(
            outcome.sheet, already_known=stored.already_known, changed_since=stored.changed.height
        )
        return replace(outcome, day_id=stored.day_id, sheet=account)


def _read(order: DayOrder) -> _Files:
    mapping = read_mapping(order.mapping.data, order.mapping.name) if order.mapping else None
    columns = mapping.columns if mapping else None
    bench = read_bench_sheet(order.sheet.data, order.sheet.name, mapping=columns)
    samples = None
    if order.samples is not None:
        samples = read_sample_sheet(order.samples.data, order.samples.name, mapping=columns)
    materials: tuple[CheckMaterial, ...] = order.materials
    more: tuple[Finding, ...] = ()
    if order.checks is not None:
        read = read_check_materials(order.checks.data, order.checks.name)
        materials, more = (*materials, *read.materials), read.findings
    terms = read_terms(order.terms.data, order.terms.name, mapping=columns) if order.terms else None
    more = (*more, *(terms.findings if terms else ()))
    grades = None
    if order.grades is not None:
        grades = read_grade_sheet(order.grades.data, order.grades.name, mapping=columns)
        more = (*more, *grades.findings)
    pairs = ReadPairs(empty(OWN_PAIRS), ())
    if order.duplicates is not None:
        pairs = read_pairs_sheet(order.duplicates.data, order.duplicates.name)
    return _Files(
        bench,
        samples,
        materials,
        terms.terms if terms else None,
        grades,
        pairs,
        (*(mapping.findings if mapping else ()), *more, *pairs.findings),
        TermsSource(order.terms.name, sha256_hex(order.terms.data), None) if order.terms else None,
    )


def _with_terms(files: _Files, view: View) -> _Files:
    """Terms of the order, else those that stand in the records."""
    kept = standing_terms(view)
    if kept is None:
        return files
    read = read_kept(kept).terms
    if files.terms_from is not None and files.terms != read:
        return files
    # A file that says what stands is told under the version that it is.
    return replace(files, terms=read, terms_from=TermsSource(kept.source, kept.sha256, kept.key))


def _with_kept(given: tuple[CheckMaterial, ...], view: View) -> tuple[CheckMaterial, ...]:
    """Check materials handed in with the sheet, and those of the records that it does not name."""
    named = {m.material_id.casefold() for m in given}
    return (*given, *(m for m in known_materials(view) if m.material_id.casefold() not in named))


def _nothing_known() -> _Known:
    columns = {name: READINGS[name] for name in ("row", *_KEY, "row_text")}
    return _Known(empty(columns), 0, empty(JUDGED), empty(JUDGED))


def _known(unit: Unit, readings: pl.DataFrame, *, take: bool) -> _Known:
    known = unit.known_rows(readings).unique(_KEY, maintain_order=True)
    if known.is_empty() and readings.is_empty():
        return _nothing_known()
    offered = readings.select("row", *_KEY, "row_text").unique(_KEY, keep="first", maintain_order=True)
    both = offered.join(
        known.select(*_KEY, kept_text="row_text"), on=_KEY, how="inner", maintain_order="left"
    )
    differs = pl.col("kept_text").is_not_null() & (pl.col("kept_text") != pl.col("row_text"))
    changed = both.filter(differs)
    standing = unit.standing_readings(readings["sample"].to_list())
    earlier = standing.join(offered, on=_KEY, how="anti").with_columns(pl.lit(None, pl.Int64).alias("row"))
    if take:
        return _Known(changed.clear(), both.height - changed.height, earlier, empty(JUDGED))
    kept = standing.drop("row").join(changed.select("row", *_KEY), on=_KEY, how="inner")
    return _Known(changed, both.height - changed.height, earlier, conform(kept, JUDGED))


def _standing(readings: pl.DataFrame, known: _Known) -> pl.DataFrame:
    """Rows to judge: those of the sheet, what stands in place of changed ones, and earlier readings."""
    if known.changed.is_empty() and known.earlier.is_empty():
        return readings
    mine = readings.filter(~pl.col("row").is_in(known.changed["row"].implode()))
    others = pl.concat([known.kept, known.earlier]).select(list(READINGS))
    return pl.concat([mine, others]).sort("row", nulls_last=True, maintain_order=True)


def _offered(outcome: DayOutcome, known: _Known) -> pl.DataFrame:
    """Rows of the sheet as it says them, for keeping; changed ones do not stand."""
    judged = outcome.readings.filter(pl.col("row").is_not_null())
    if known.changed.is_empty():
        return judged
    again = judged.with_columns(
        pl.when(pl.col("row").is_in(known.changed["row"].implode()))
        .then(pl.lit(State.RUN_AGAIN.value, pl.Int8))
        .otherwise("state")
        .alias("state")
    )
    said = known.changed.select("row", said="row_text")
    return (
        again.join(said, on="row", how="left", maintain_order="left")
        .with_columns(
            pl.coalesce("said", "row_text").alias("row_text"),
            pl.when(pl.col("said").is_not_null())
            .then(pl.lit("row-changed-since"))
            .otherwise("state_code")
            .alias("state_code"),
        )
        .drop("said")
    )


def _own(files: _Files, earlier: Earlier, kept: pl.DataFrame, default: Profile) -> OwnPrecision:
    """What earlier pairs and check samples say; those of this sheet count from the next sheet on."""
    method = default.comparable_key
    same = earlier.results.filter(pl.col("comparable_key") == method)
    checks = check_outcomes(same, earlier.samples, files.materials)
    return own_precision(kept, files.pairs.frame, checks, method=method)


def _named_in(readings: pl.DataFrame, book: ProfileBook) -> tuple[Profile, ...]:
    """Profiles that the rows name."""
    known = book.by_any_name()
    names = readings["profile"].drop_nulls().unique(maintain_order=True).to_list()
    return tuple(known[n] for n in names if n in known)


def _outcome(
    order: DayOrder,
    files: _Files,
    book: ProfileBook,
    known: _Known,
    earlier: Earlier,
    view: View | None,
    at: datetime,
) -> DayOutcome:
    default = book.named(order.profile)
    kept = own_pairs(earlier.readings, earlier.results, floor_s=default.constants.floor_s)
    own = _own(files, earlier, kept, default)
    standing = _standing(files.bench.frame, known)
    judged = judge(
        standing,
        book.by_any_name(),
        default,
        own.law,
        elevation_m=order.elevation_m,
        pressure_is_station=order.pressure_is_station,
        laws=laws_by_profile(kept, _named_in(standing, book), default, own),
    )
    samples = files.samples.frame if files.samples else empty(SAMPLES)
    used = _profiles_used(judged, book, default)
    hold = hold_of_day(
        judged.readings, judged.results, samples, files.materials, earlier, order.check_causes, view
    )
    results = with_own_u(judged.results, own)
    typical = typical_level(results)
    budget = budget_at(own, typical) if typical is not None else None
    results = mark_held(results, hold) if hold else results
    bench = bench_findings(
        judged.readings,
        judged.results,
        samples,
        profiles=used,
        scatter=own.law,
        materials=files.materials,
        bench_source=order.sheet.name,
        sample_source=order.samples.name if order.samples else None,
    )
    prices = None
    if files.terms is not None and files.samples is not None:
        by_sample = files.grades.by_sample if files.grades else {}
        prices = prices_of_day(results, samples, judged.readings, used, files.terms, by_sample, order.costs)
    # Rows of the file of pairs have their findings from the reading of it.
    more = (*(prices.findings if prices else ()), *own.findings, *(hold.findings if hold else ()))
    findings = _all_findings(order, files, judged, bench, known, more)
    return DayOutcome(
        day_id="",
        title=order.title or order.sheet.name,
        read_at=at,
        demonstration=order.demonstration,
        sheet=_account(files.bench, findings, known),
        sample_sheet=_account(files.samples, findings, _nothing_known()) if files.samples else None,
        profiles=used,
        scatter=own.law,
        readings=judged.readings,
        results=results,
        samples=samples,
        refused=files.bench.refused + (files.samples.refused if files.samples else ()),
        findings=findings,
        counts=count_day(results, judged.readings),
        limits=limits_of(files.terms) if files.terms else (),
        bins=bin_states(samples, results),
        prices=prices,
        own=own,
        budget=budget,
        hold=hold,
    )


def _profiles_used(judged: Judged, book: ProfileBook, default: Profile) -> tuple[Profile, ...]:
    names = judged.results["profile"].unique(maintain_order=True).to_list()
    used = tuple(book.versions[n] for n in names if n in book.versions)
    return used or (default,)


def _all_findings(
    order: DayOrder,
    files: _Files,
    judged: Judged,
    bench: tuple[Finding, ...],
    known: _Known,
    more: tuple[Finding, ...],
) -> tuple[Finding, ...]:
    name = order.sheet.name
    # Judging does not know the sheet's name; a row without one is a row of the bench sheet.
    judged_here = tuple(
        replace(f, where=replace(f.where, source=name)) if f.where.row and not f.where.source else f
        for f in judged.findings
    )
    changed = tuple(
        Finding(
            "row-changed-since",
            Where(source=name, row=row, sample=sample, run=run, position=position),
            Severity.STOP,
        )
        for row, sample, run, position in known.changed.select("row", *_KEY).iter_rows()
    )
    sheets = (*files.bench.findings, *(files.samples.findings if files.samples else ()))
    return in_order((*sheets, *files.findings, *more, *changed, *told_once(judged_here, bench)))


def _account(sheet: ReadSheet, findings: tuple[Finding, ...], known: _Known) -> SheetAccount:
    refused = {r.row for r in sheet.refused}
    looked_at = {
        f.where.row
        for f in findings
        if f.where.source == sheet.name and f.where.row is not None and f.severity is not Severity.NOTE
    }
    taken = sheet.frame.height
    with_finding = len(looked_at - refused)
    return SheetAccount(
        name=sheet.name,
        sha256=sheet.sha256,
        rows=sheet.rows,
        taken=taken,
        taken_with_finding=min(with_finding, taken),
        refused=len(sheet.refused),
        already_known=known.again,
        changed_since=known.changed.height,
    )
