"""``season blends``: own blends, predicted against measured."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer

from lodestarch.cli.files import bytes_of
from lodestarch.cli.options import AsJson, Strict
from lodestarch.cli.output import emit_json, finish, say, show_findings, table
from lodestarch.cli.season_options import Floor, number_typed, probable
from lodestarch.words.catalogues import term
from lodestarch.words.numbers import number

__all__ = ["blends"]


def blends(
    file: Annotated[
        Path,
        typer.Argument(metavar="FILE", help="Own blends, a row a lot: blend, seconds, mass, measured_s."),
    ],
    probability: Annotated[
        float,
        typer.Option(parser=number_typed, help="Chance that the next blend makes it.", metavar="NUMBER"),
    ] = 0.9,
    no_cap: Annotated[bool, typer.Option("--no-cap", help="Do not hold LN constant from 400 s up.")] = False,
    floor: Floor = 62.0,
    strict: Strict = False,
    as_json: AsJson = False,
) -> None:
    """Own blends predicted against measured, and the margin that a plan should keep."""
    from lodestarch.method.blend import CAP_S
    from lodestarch.work.season.answers import blends_of
    from lodestarch.work.season.as_json import blends_as_dict

    if not probable(probability):
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
