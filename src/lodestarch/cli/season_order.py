"""``season order``: which field first, from early samples and ratings."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from lodestarch.cli.files import bytes_of
from lodestarch.cli.options import DEFAULT_RECORDS, AsJson, RecordsAddress, Strict
from lodestarch.cli.output import emit_json, finish, say, show_findings, table
from lodestarch.cli.season_options import Factors, Floor, Limit, Sites, Value, limit_held, sheet_of
from lodestarch.words.catalogues import term
from lodestarch.words.numbers import number

__all__ = ["order"]


def order(
    fields: Annotated[
        Path,
        typer.Argument(
            metavar="FIELDS",
            help="Standing fields, a row each: field, tonnes, hours; early_s with u_early_s, variety, ripe.",
        ),
    ],
    limit: Limit = 250.0,
    results: Annotated[
        Path | None,
        typer.Option(help="Results to rate varieties from. [default: the records, where there are any]"),
    ] = None,
    value: Value = None,
    factors: Factors = "",
    floor: Floor = 62.0,
    records: RecordsAddress = DEFAULT_RECORDS,
    site: Sites = "",
    strict: Strict = False,
    as_json: AsJson = False,
) -> None:
    """Which field first: tonnes at stake an hour of cutting, from early samples; never from weather alone."""
    from lodestarch.words.season_calibration import order_rows
    from lodestarch.work.season.outcomes import order_of
    from lodestarch.work.season.overview_json import order_as_dict

    limit_held(limit)
    there = results is not None or "://" in records or Path(records).exists()
    sheet = sheet_of(results, value, factors, floor, records, site) if there else None
    answer = order_of(bytes_of(fields), fields.name, sheet, limit_s=limit)
    placed = bool(answer.order.lines)
    if as_json:
        emit_json(order_as_dict(answer), answer.findings)
        finish(answer.findings, answered=placed, strict=strict)
        return
    if placed:
        said = {"count": len(answer.order.lines), "limit": number(limit)}
        say(term("season-order.said", **said))
        say(term("season-page.fields-note"))
        say()
        keys = ("field", "meets", "falls", "stake", "per-hour")
        sides = [(term(f"season-page.{k}"), "left" if k == "field" else "right") for k in keys]
        table(sides, order_rows(answer.order))
    else:
        say(term("season.none-said"))
    show_findings(answer.findings)
    finish(answer.findings, answered=placed, strict=strict)
