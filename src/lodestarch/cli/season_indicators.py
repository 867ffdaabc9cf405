"""``season indicators``: weather beside results."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from lodestarch.cli.files import bytes_of
from lodestarch.cli.options import DEFAULT_RECORDS, AsJson, RecordsAddress, Strict
from lodestarch.cli.output import emit_json, finish, say, show_findings, table
from lodestarch.cli.season_options import Factors, File, Floor, Sites, Value, number_typed, sheet_of
from lodestarch.common.errors import LodestarchError
from lodestarch.words.catalogues import term
from lodestarch.words.numbers import number

if TYPE_CHECKING:
    from lodestarch.season.indicators import IndicatorRecord

__all__ = ["indicators"]


def _mapping(text: str) -> dict[str, str]:
    known = ("date", "max", "min", "rain")
    made = {}
    for part in (p for p in text.split(",") if p.strip()):
        key, _, column = part.partition("=")
        if key.strip() not in known or not column.strip():
            raise LodestarchError(f"{part.strip()!r} maps nothing; write date=COLUMN, max=, min= or rain=")
        made[key.strip()] = column.strip()
    return made


def indicators(
    file: File = None,
    weather: Annotated[
        list[Path] | None, typer.Option(help="A station's file, daily or monthly; may be given twice.")
    ] = None,
    fit: Annotated[
        list[str] | None,
        typer.Option(
            help="Judge a local fit on seasons left out: one predictor, or two as a+b, fixed beforehand."
        ),
    ] = None,
    margin: Annotated[
        float, typer.Option(parser=number_typed, help="Gain that a fit must reach. [%]", metavar="PERCENT")
    ] = 10.0,
    mapping: Annotated[str, typer.Option("--map", help="date=DAY,max=TX,min=TN,rain=RR")] = "",
    dates: Annotated[str, typer.Option(help="Order of dates: iso, day-first, month-first.")] = "iso",
    fahrenheit: Annotated[bool, typer.Option("--fahrenheit", help="Temperatures are in °F.")] = False,
    inches: Annotated[bool, typer.Option("--inches", help="Rain is in inches.")] = False,
    value: Value = None,
    factors: Factors = "",
    floor: Floor = 62.0,
    records: RecordsAddress = DEFAULT_RECORDS,
    site: Sites = "",
    strict: Strict = False,
    as_json: AsJson = False,
) -> None:
    """Weather beside measured results: an explanation, never a prediction of seconds."""
    from lodestarch.sheets.weather_sheet import DATE_ORDERS
    from lodestarch.work.season.answers import indicators_of
    from lodestarch.work.season.as_json import indicators_as_dict

    if dates not in DATE_ORDERS:
        raise LodestarchError(f"no order of dates named {dates!r}; there are: {', '.join(DATE_ORDERS)}")
    if not 0.0 <= margin <= 100.0:
        raise LodestarchError(f"{margin:g} % is no margin; give 0 to 100")
    answer = indicators_of(
        sheet_of(file, value, factors, floor, records, site), [(p.name, bytes_of(p)) for p in weather or ()],
        mapping=_mapping(mapping), dates=dates, fahrenheit=fahrenheit, inches=inches, fits=tuple(fit or ()),
        margin=margin / 100.0,
    )  # fmt: skip
    record = answer.record
    answered = record is not None and bool(record.harvests)
    if as_json:
        emit_json(indicators_as_dict(answer), answer.findings)
        finish(answer.findings, answered=answered, strict=strict)
        return
    if record is not None and record.harvests:
        say(term("season.indicators-said", harvests=len(record.harvests)))
        say()
        _show_weather(record)
        for one in record.fits:
            said = {"what": " + ".join(one.names), "verdict": one.verdict.value}
            if one.error_s is None:
                say(term("season.fit-none", **said))
            else:
                more = {"error": number(one.error_s, 1), "none": number(one.no_model_s, 1)}
                say(term("season.fit-said", **said, **more, nearer=one.nearer, seasons=one.seasons))
    else:
        say(term("season.none-said"))
    show_findings(answer.findings)
    finish(answer.findings, answered=answered, strict=strict)


def _show_weather(record: IndicatorRecord) -> None:
    from lodestarch.words.season import harvest_rows, weather_rows
    from lodestarch.work.season.as_json import iso_day

    days = [iso_day(h.day) for h in record.harvests]
    keys = ("harvest", "results", "bounds", "mean", "range", "cause")
    left = {"harvest", "cause"}
    columns = [(term(f"season.{k}-column"), "left" if k in left else "right") for k in keys]
    table(columns, harvest_rows(record.harvests, days))
    say()
    say(term("season.indicators-units"))
    heads = [(term(f"season-indicator.{n}"), "right") for n in record.names]
    table([(term("season.harvest-column"), "left"), *heads], weather_rows(record.harvests, days))
    say()
