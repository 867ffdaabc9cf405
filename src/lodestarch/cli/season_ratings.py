"""``season ratings``: varieties and origins, with what stands behind each."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from lodestarch.cli.options import DEFAULT_RECORDS, AsJson, RecordsAddress, Strict
from lodestarch.cli.output import emit_json, finish, say, show_findings, table
from lodestarch.cli.season_options import (
    Factors,
    File,
    Floor,
    Limit,
    Picture,
    Probability,
    ScaleName,
    Sites,
    Value,
    limit_held,
    probable,
    sheet_of,
)
from lodestarch.cli.tube_output import write_text
from lodestarch.words.catalogues import term
from lodestarch.words.numbers import number

if TYPE_CHECKING:
    from lodestarch.work.season.answers import RatingAnswer

__all__ = ["ratings"]


def ratings(
    file: File = None,
    value: Value = None,
    factors: Factors = "",
    of: Annotated[
        str, typer.Option(help="Factors to rate, with commas between. [default: all but season and week]")
    ] = "",
    limit: Limit = 250.0,
    scale: ScaleName = "seconds",
    probability: Probability = 0.95,
    floor: Floor = 62.0,
    records: RecordsAddress = DEFAULT_RECORDS,
    site: Sites = "",
    most: Annotated[int, typer.Option(help="Levels shown of each factor; --json gives all.")] = 30,
    out: Picture = None,
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

    if not probable(probability):
        raise SystemExit(2)
    limit_held(limit)
    kind = scale_named(scale)
    named = tuple(f.strip() for f in of.split(",") if f.strip())
    answer = ratings_of(
        sheet_of(file, value, factors, floor, records, site),
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
