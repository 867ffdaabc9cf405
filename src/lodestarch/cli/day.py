"""``day SHEET``: a bench sheet in; results, findings and papers out."""

from __future__ import annotations

import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer

from lodestarch.cli.day_table import show_day
from lodestarch.cli.options import DEFAULT_RECORDS, AsJson, ProfileName, RecordsAddress, Strict, decimal
from lodestarch.cli.output import emit_json, finish, say
from lodestarch.work.bench.day_order import DayFile, DayOrder

__all__ = ["day"]


def _given(path: Path | None, what: str) -> DayFile | None:
    return DayFile(path.name, _bytes(path, what)) if path else None


def _bytes(path: Path, what: str) -> bytes:
    try:
        return path.read_bytes()
    except OSError as cause:
        raise typer.BadParameter(f"{what} {path} cannot be read: {cause.strerror}") from cause


def _causes(said: list[str]) -> dict[str, str]:
    causes = {}
    for one in said:
        sample, _, cause = one.partition("=")
        if not (sample.strip() and cause.strip()):
            raise typer.BadParameter("CHECK=cause, the sample of the check first", param_hint="--check-cause")
        causes[sample.strip()] = cause.strip()
    return causes


def day(
    sheet: Annotated[Path, typer.Argument(help="Bench sheet: CSV or xlsx, a row a tube.")],
    samples: Annotated[Path | None, typer.Option(help="Sample sheet, a row a sample.")] = None,
    terms: Annotated[Path | None, typer.Option(help="Terms: TOML, CSV, xlsx (docs/terms.md).")] = None,
    mapping: Annotated[
        Path | None, typer.Option(help="Header names of your sheets beside ours (docs/bench-sheet.md).")
    ] = None,
    checks: Annotated[Path | None, typer.Option(help="Check materials with assigned values, TOML.")] = None,
    grades: Annotated[
        Path | None,
        typer.Option(help="Other factors by sample: moisture_pct, protein_pct ... (docs/trade.md)."),
    ] = None,
    retest_cost: Annotated[
        float | None, typer.Option(parser=decimal, help="Cost of one more pair of tubes, for the advice.")
    ] = None,
    storage: Annotated[
        float | None,
        typer.Option(parser=decimal, help="Cost of keeping a tonne for a month, for the advice."),
    ] = None,
    duplicates: Annotated[
        Path | None,
        typer.Option(help="Earlier pairs of this bench: columns first, second (docs/precision.md)."),
    ] = None,
    check_cause: Annotated[
        list[str] | None,
        typer.Option(help="Lift what a failed check sample holds: CHECK=cause, once for each."),
    ] = None,
    profile: ProfileName = None,
    elevation: Annotated[
        str | None, typer.Option(help="Elevation of the lab, to tell a pressure reduced to sea level: 520m.")
    ] = None,
    pressure_is: Annotated[
        str | None, typer.Option(help="Say that the pressures on the sheet are station pressures: station.")
    ] = None,
    records: RecordsAddress = DEFAULT_RECORDS,
    no_records: Annotated[bool, typer.Option("--no-records", help="Judge only; keep nothing.")] = False,
    take_changes: Annotated[
        str | None,
        typer.Option(help="A reason: rows that say something else than before replace what is kept."),
    ] = None,
    person: Annotated[
        str, typer.Option(help="Who hands the sheet in.", envvar="LODESTARCH_PERSON")
    ] = "bench",
    html: Annotated[Path | None, typer.Option(help="Write the day sheet here, to print.")] = None,
    brief: Annotated[bool, typer.Option("--brief", help="Leave notes and agreeing samples out.")] = False,
    as_json: AsJson = False,
    strict: Strict = False,
) -> None:
    """Read a day's bench sheet: judge every tube, keep it, and say what to look at."""
    from lodestarch.plan.advice import Costs
    from lodestarch.work.bench.day import run_day
    from lodestarch.work.bench.paper import day_sheet_html
    from lodestarch.work.pocket.bath import read_height

    if pressure_is not in {None, "station"}:
        raise typer.BadParameter(
            "station; a sheet of sea-level pressures cannot be used", param_hint="--pressure-is"
        )
    order = DayOrder(
        sheet=DayFile(sheet.name, _bytes(sheet, "the bench sheet")),
        samples=_given(samples, "the sample sheet"),
        terms=_given(terms, "the terms"),
        mapping=_given(mapping, "the mapping"),
        checks=_given(checks, "the check materials"),
        profile=profile,
        elevation_m=read_height(elevation),
        pressure_is_station=pressure_is == "station",
        take_changes=take_changes,
        grades=_given(grades, "the grades"),
        duplicates=_given(duplicates, "the earlier pairs"),
        check_causes=_causes(check_cause or []),
        costs=Costs(retest_cost, 0.0, storage),
    )
    at = datetime.now(UTC)
    if no_records:
        outcome = run_day(order, records=None, person=person, at=at)
    else:
        from lodestarch.records.engine import open_records

        with open_records(records, clock=lambda: at) as kept:
            outcome = run_day(order, records=kept, person=person, at=at)
    if html is not None:
        html.parent.mkdir(parents=True, exist_ok=True)
        html.write_text(day_sheet_html(outcome), encoding="utf-8")
    if as_json:
        from lodestarch.work.bench.outcome_json import day_as_dict

        emit_json(day_as_dict(outcome), outcome.findings)
    else:
        show_day(outcome, brief=brief)
        if html is not None:
            say(f"Day sheet: {html}")
    sys.stdout.flush()
    finish(outcome.findings, answered=outcome.sheet.taken > 0, strict=strict)
