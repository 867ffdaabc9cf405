"""``season effects``: how the spread of results divides."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from lodestarch.cli.options import DEFAULT_RECORDS, AsJson, RecordsAddress, Strict
from lodestarch.cli.output import emit_json, finish, say, show_findings, table
from lodestarch.cli.season_options import (
    Factors,
    File,
    Floor,
    Picture,
    Probability,
    ScaleName,
    Sites,
    Value,
    probable,
    sheet_of,
)
from lodestarch.cli.tube_output import write_text
from lodestarch.words.catalogues import term
from lodestarch.words.numbers import number

if TYPE_CHECKING:
    from lodestarch.work.season.answers import EffectsAnswer

__all__ = ["effects"]


def effects(
    file: File = None,
    value: Value = None,
    factors: Factors = "",
    scale: ScaleName = "seconds",
    censored: Annotated[
        bool, typer.Option("--censored", help="Fit once more with bounds taken as bounds.")
    ] = False,
    probability: Probability = 0.95,
    floor: Floor = 62.0,
    records: RecordsAddress = DEFAULT_RECORDS,
    site: Sites = "",
    out: Picture = None,
    strict: Strict = False,
    as_json: AsJson = False,
) -> None:
    """How much of the spread goes with variety, origin, year, week, bench or analyst."""
    from lodestarch.words.drawing.alone import alone
    from lodestarch.words.season import shares_picture
    from lodestarch.work.season.answers import effects_of, scale_named
    from lodestarch.work.season.as_json import effects_as_dict

    if not probable(probability):
        raise SystemExit(2)
    kind = scale_named(scale)
    answer = effects_of(
        sheet_of(file, value, factors, floor, records, site),
        scale=kind,
        probability=probability,
        censored=censored,
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
