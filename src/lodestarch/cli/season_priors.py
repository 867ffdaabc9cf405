"""``season priors``: what the season so far says of the next lot, judged on results not yet seen."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from lodestarch.cli.options import DEFAULT_RECORDS, AsJson, RecordsAddress, Strict
from lodestarch.cli.output import emit_json, finish, say, show_findings, table
from lodestarch.cli.season_options import Factors, File, Floor, Picture, Sites, Value, sheet_of
from lodestarch.cli.tube_output import write_text
from lodestarch.common.errors import LodestarchError
from lodestarch.words.catalogues import term
from lodestarch.words.numbers import number

if TYPE_CHECKING:
    from lodestarch.work.season.outcomes import PriorAnswer

__all__ = ["priors"]


def priors(
    file: File = None,
    lot: Annotated[
        str,
        typer.Option("--for", help="The lot, as variety=NAME,origin=NAME; the rest stays open."),
    ] = "",
    value: Value = None,
    factors: Factors = "",
    floor: Floor = 62.0,
    records: RecordsAddress = DEFAULT_RECORDS,
    site: Sites = "",
    out: Picture = None,
    strict: Strict = False,
    as_json: AsJson = False,
) -> None:
    """What variety, place and time say of a lot before its test: offered only where it beats a flat prior."""
    from lodestarch.words.drawing.alone import alone
    from lodestarch.words.season_calibration import HEIGHT_PX, prior_picture
    from lodestarch.work.season.outcomes import priors_of
    from lodestarch.work.season.overview_json import priors_as_dict

    answer = priors_of(sheet_of(file, value, factors, floor, records, site), _lot(lot))
    answered = answer.record is not None and answer.record.near is not None
    picture = None if answer.record is None else prior_picture(answer.record)
    if out is not None and picture is not None:
        write_text(out, alone([(picture, 0.8 * HEIGHT_PX)], [term("season-calibration.alike")]))
    if as_json:
        emit_json(priors_as_dict(answer), answer.findings)
    else:
        _show(answer)
        if out is not None and picture is not None:
            say(f"{out}: {out.stat().st_size} bytes")
        show_findings(answer.findings)
    finish(answer.findings, answered=answered, strict=strict)


def _lot(text: str) -> dict[str, str]:
    made: dict[str, str] = {}
    for part in (p for p in text.split(",") if p.strip()):
        key, _, level = part.partition("=")
        if not key.strip() or not level.strip():
            raise LodestarchError(f"{part.strip()!r} states nothing of a lot; write variety=NAME")
        made[key.strip().casefold()] = level.strip()
    return made


def _show(answer: PriorAnswer) -> None:
    from lodestarch.words.season_calibration import prior_rows, score_row

    r = answer.record
    if r is None or r.near is None:
        say(term("season.none-said"))
        return
    near, pooled, flat = score_row(r)
    say(term("season-priors.said", count=number(r.scored), near=near, pooled=pooled, flat=flat))
    say(term(f"season-page.prior-{r.offer.value}"))
    if answer.lot:
        p = answer.prior
        said = term("season-priors.lot-none") if p is None else term(
            "season-priors.lot", mean=number(p.mean_s), sd=number(p.sd_s)
        )  # fmt: skip
        say(said)
    say()
    keys = ("tenth", "foretold", "expected")
    table([(term(f"season-page.{k}"), "right") for k in keys], prior_rows(r))
