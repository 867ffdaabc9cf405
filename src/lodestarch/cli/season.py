"""``season``: what results of a season show, from a file or from the records."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from lodestarch.cli.files import bytes_of
from lodestarch.cli.options import DEFAULT_RECORDS, AsJson, Strict, decimal
from lodestarch.cli.output import emit_json, finish, say, show_findings, table
from lodestarch.cli.tube_output import write_text
from lodestarch.common.errors import LodestarchError
from lodestarch.words.catalogues import term
from lodestarch.words.numbers import number

if TYPE_CHECKING:
    from lodestarch.season.indicators import IndicatorRecord
    from lodestarch.sheets.season_sheet import SeasonSheet
    from lodestarch.work.season.answers import EffectsAnswer, RatingAnswer

__all__ = ["season_app"]

season_app = typer.Typer(
    help="What a season's results show: effects, ratings, weather beside them, faults, own blends.",
    no_args_is_help=True,
)


def _decimal(text: str | float) -> float:
    # A default comes as the number that it is.
    return decimal(str(text))


_File = Annotated[
    Path | None,
    typer.Argument(metavar="[FILE]", help="Results: CSV or xlsx, a row a result. [default: the records]"),
]
_Value = Annotated[str | None, typer.Option(help="Column of the seconds. [default: found by name]")]
_Factors = Annotated[
    str,
    typer.Option(
        help="Columns to tell apart, with commas between; a:b is two together. [default: found by name]"
    ),
]
_Scale = Annotated[str, typer.Option(help="seconds, log, or liquefaction.")]
_Probability = Annotated[
    float, typer.Option(parser=_decimal, help="Content of the intervals.", metavar="NUMBER")
]
_Floor = Annotated[
    float, typer.Option(parser=_decimal, help="At or below it a result only bounds. [s]", metavar="SECONDS")
]
_Records = Annotated[str, typer.Option("--records", help="The records: a file, or a postgresql:// address.")]
_Picture = Annotated[Path | None, typer.Option("--out", "-o", help="Write a picture here, as SVG.")]


def _sheet(file: Path | None, value: str | None, factors: str, floor: float, records: str) -> SeasonSheet:
    from lodestarch.work.season.asked import SeasonAsked, from_file, from_records

    named = tuple(f.strip() for f in factors.split(",") if f.strip())
    asked = SeasonAsked(value, named, floor)
    if file is not None:
        return from_file(bytes_of(file), file.name, asked)
    from lodestarch.records.engine import open_records

    with open_records(records, create=False, mode="read", clock=lambda: datetime.now(UTC)) as opened:
        return from_records(opened, asked)


def _probable(probability: float) -> bool:
    from lodestarch.work.season.answers import probability_fault

    fault = probability_fault(probability)
    if fault is not None:
        show_findings((fault,))
    return fault is None


@season_app.command("effects")
def effects(
    file: _File = None,
    value: _Value = None,
    factors: _Factors = "",
    scale: _Scale = "seconds",
    censored: Annotated[
        bool, typer.Option("--censored", help="Fit once more with bounds taken as bounds.")
    ] = False,
    probability: _Probability = 0.95,
    floor: _Floor = 62.0,
    records: _Records = DEFAULT_RECORDS,
    out: _Picture = None,
    strict: Strict = False,
    as_json: AsJson = False,
) -> None:
    """How much of the spread goes with variety, origin, year, week, bench or analyst."""
    from lodestarch.words.drawing.alone import alone
    from lodestarch.words.season import shares_picture
    from lodestarch.work.season.answers import effects_of, scale_named
    from lodestarch.work.season.as_json import effects_as_dict

    if not _probable(probability):
        raise SystemExit(2)
    kind = scale_named(scale)
    answer = effects_of(
        _sheet(file, value, factors, floor, records), scale=kind, probability=probability, censored=censored
    )
    answered = answer.effects is not None and bool(answer.effects.effects)
    if answered and answer.effects is not None and out is not None:
        write_text(out, alone([shares_picture(answer.effects)], []))
    if as_json:
        emit_json(effects_as_dict(answer), answer.findings)
    else:
        _show_effects(answer)
        if answered and out is not None:
            say(f"{out}: {out.stat().st_size} bytes")
        show_findings(answer.findings)
    finish(answer.findings, answered=answered, strict=strict)


def _show_effects(answer: EffectsAnswer) -> None:
    from lodestarch.season.scale import Scale, from_scale
    from lodestarch.words.season import effect_rows

    e = answer.effects
    if e is None or e.mean is None:
        say(term("season.none-said"))
        return
    mean = number(from_scale(e.scale, e.mean), 0)
    say(term("season.effects-said", results=number(e.table.n, 0), scale=e.scale.value, mean=mean))
    say()
    keys = ("factor", "levels", "sd", "interval", "share", "interval")
    table([(term(f"season.{k}-column"), "left" if k == "factor" else "right") for k in keys], effect_rows(e))
    if answer.scales:
        say()
        said = {s.scale.value: number(s.deviance, 0) for s in answer.scales}
        say(term("season.scale-best", best=answer.scales[0].scale.value, **said))
    c = answer.censored
    if c is not None and c.mean is not None:
        decimals = 1 if c.scale is Scale.SECONDS else 3
        sds = ", ".join(f"{x.name} {number(sd, decimals)}" for x, sd in zip(e.effects, c.sds, strict=True))
        mean = number(from_scale(c.scale, c.mean), 0)
        say(term("season.censored-said", count=number(c.bounds, 0), mean=mean, sds=sds))


@season_app.command("ratings")
def ratings(
    file: _File = None,
    value: _Value = None,
    factors: _Factors = "",
    of: Annotated[
        str, typer.Option(help="Factors to rate, with commas between. [default: all but season and week]")
    ] = "",
    limit: Annotated[
        float, typer.Option(parser=_decimal, help="Limit that matters to you. [s]", metavar="SECONDS")
    ] = 250.0,
    scale: _Scale = "seconds",
    probability: _Probability = 0.95,
    floor: _Floor = 62.0,
    records: _Records = DEFAULT_RECORDS,
    most: Annotated[int, typer.Option(help="Levels shown of each factor; --json gives all.")] = 30,
    out: _Picture = None,
    export: Annotated[Path | None, typer.Option(help="Write all ratings here, as open data: CSV.")] = None,
    strict: Strict = False,
    as_json: AsJson = False,
) -> None:
    """Varieties and origins, shrunken, with what stands behind each; never a bare ranking."""
    from lodestarch.words.drawing.alone import alone
    from lodestarch.words.season import ratings_picture
    from lodestarch.work.season.answers import ratings_of, scale_named
    from lodestarch.work.season.as_json import ratings_as_dict
    from lodestarch.work.season.open_data import ratings_csv

    if not _probable(probability):
        raise SystemExit(2)
    if not 51.0 <= limit <= 1200.0:
        raise LodestarchError(f"{limit:g} s is no limit for a falling number; give 51 to 1200")
    kind = scale_named(scale)
    named = tuple(f.strip() for f in of.split(",") if f.strip())
    answer = ratings_of(
        _sheet(file, value, factors, floor, records),
        of=named,
        limit_s=limit,
        scale=kind,
        probability=probability,
    )
    answered = any(r.lines for r in answer.ratings)
    if answered and out is not None:
        pictures = [p for r in answer.ratings if (p := ratings_picture(r)) is not None]
        if pictures:
            write_text(out, alone(pictures, []))
    if answered and export is not None:
        write_text(export, ratings_csv(answer))
    if as_json:
        emit_json(ratings_as_dict(answer), answer.findings)
        finish(answer.findings, answered=answered, strict=strict)
        return
    _show_ratings(answer, most)
    for path in (out, export):
        if answered and path is not None and path.exists():
            say(f"{path}: {path.stat().st_size} bytes")
    show_findings(answer.findings)
    finish(answer.findings, answered=answered, strict=strict)


def _show_ratings(answer: RatingAnswer, most: int) -> None:
    from lodestarch.words.season import rating_rows

    for r in answer.ratings:
        say(term("season.ratings-said", factor=r.factor, limit=number(r.limit_s, 0)))
        keys = (
            "level",
            "results",
            "trials",
            "seasons",
            "estimate",
            "interval",
            "plain",
            "reliability",
            "below",
        )
        heads = [(term(f"season.{k}-column"), "left" if k == "level" else "right") for k in keys]
        table(heads, rating_rows(r.lines[:most]))
        if len(r.lines) > most:
            say(f"… {len(r.lines) - most}")
        say()
    if not answer.ratings:
        say(term("season.none-said"))


def _mapping(text: str) -> dict[str, str]:
    known = ("date", "max", "min", "rain")
    made = {}
    for part in (p for p in text.split(",") if p.strip()):
        key, _, column = part.partition("=")
        if key.strip() not in known or not column.strip():
            raise LodestarchError(f"{part.strip()!r} maps nothing; write date=COLUMN, max=, min= or rain=")
        made[key.strip()] = column.strip()
    return made


@season_app.command("indicators")
def indicators(
    file: _File = None,
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
        float, typer.Option(parser=_decimal, help="Gain that a fit must reach. [%]", metavar="PERCENT")
    ] = 10.0,
    mapping: Annotated[str, typer.Option("--map", help="date=DAY,max=TX,min=TN,rain=RR")] = "",
    dates: Annotated[str, typer.Option(help="Order of dates: iso, day-first, month-first.")] = "iso",
    fahrenheit: Annotated[bool, typer.Option("--fahrenheit", help="Temperatures are in °F.")] = False,
    inches: Annotated[bool, typer.Option("--inches", help="Rain is in inches.")] = False,
    value: _Value = None,
    factors: _Factors = "",
    floor: _Floor = 62.0,
    records: _Records = DEFAULT_RECORDS,
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
        _sheet(file, value, factors, floor, records), [(p.name, bytes_of(p)) for p in weather or ()],
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


@season_app.command("faults")
def faults(
    file: _File = None,
    value: _Value = None,
    factors: _Factors = "",
    floor: _Floor = 62.0,
    records: _Records = DEFAULT_RECORDS,
    strict: Strict = False,
    as_json: AsJson = False,
) -> None:
    """Copied values, block shifts, mixed-up samples, hidden averages, heaping: each with its evidence."""
    from lodestarch.words.season import fault_rows
    from lodestarch.work.season.answers import faults_of
    from lodestarch.work.season.as_json import faults_as_dict

    answer = faults_of(_sheet(file, value, factors, floor, records))
    if as_json:
        emit_json(faults_as_dict(answer), answer.findings)
    else:
        if not answer.looked:
            say(term("season.none-said"))
        else:
            name = "season.faults-said" if answer.faults else "season.faults-none"
            say(term(name, results=number(answer.results, 0), count=len(answer.faults)))
        if answer.faults:
            say()
            keys = ("kind", "rows", "chance")
            table([(term(f"season.{k}-column"), "left") for k in keys], fault_rows(answer.faults))
        show_findings(answer.findings)
    finish(answer.findings, answered=answer.looked, strict=strict)


@season_app.command("blends")
def blends(
    file: Annotated[
        Path,
        typer.Argument(metavar="FILE", help="Own blends, a row a lot: blend, seconds, mass, measured_s."),
    ],
    probability: Annotated[
        float,
        typer.Option(parser=_decimal, help="Wanted chance that the next blend makes it.", metavar="NUMBER"),
    ] = 0.9,
    no_cap: Annotated[bool, typer.Option("--no-cap", help="Do not hold LN constant from 400 s up.")] = False,
    floor: _Floor = 62.0,
    strict: Strict = False,
    as_json: AsJson = False,
) -> None:
    """Own blends predicted against measured, and the margin that a plan should keep."""
    from lodestarch.method.blend import CAP_S
    from lodestarch.work.season.answers import blends_of
    from lodestarch.work.season.as_json import blends_as_dict

    if not _probable(probability):
        raise SystemExit(2)
    cap = None if no_cap else CAP_S
    answer = blends_of(bytes_of(file), file.name, cap_s=cap, probability=probability, floor_s=floor)
    r = answer.record
    if as_json:
        emit_json(blends_as_dict(answer), answer.findings)
        finish(answer.findings, answered=bool(r.lines), strict=strict)
        return
    rows: Sequence[tuple[str, ...]] = [
        (
            x.name, number(x.lots, 0), number(x.predicted_s, 0), number(x.measured_s, 0),
            number(x.error_s, 0) if x.compared else "–",
        )
        for x in r.lines
    ]  # fmt: skip
    if r.bias_s is not None and r.margin_s is not None:
        said = {"count": r.compared, "bias": number(r.bias_s, 1), "u": number(r.u_bias_s, 1)}
        say(term("season.blends-said", **said, sd=number(r.sd_s, 1)))
        say(term("season.blends-margin", margin=number(r.margin_s, 0), share=number(10.0 * probability, 1)))
        if r.offset_s is not None:
            which = term("season.law-own" if r.use_fitted else "season.law-standard")
            more = {"offset": number(r.offset_s, 0), "fitted": number(r.fitted_error_s, 1)}
            say(term("season.blends-law", **more, law=number(r.law_error_s, 1), which=which))
        say()
    elif not r.lines:
        say(term("season.none-said"))
    if rows:
        keys = ("blend", "lots", "computed", "measured", "error")
        table([(term(f"season.{k}-column"), "left" if k == "blend" else "right") for k in keys], rows)
    show_findings(answer.findings)
    finish(answer.findings, answered=bool(r.lines), strict=strict)
