"""``loadout CARGO``: a cargo as it goes aboard, with results that come behind."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from lodestarch.cli.files import bytes_of
from lodestarch.cli.options import AsJson, Strict
from lodestarch.cli.output import emit_json, finish, say, show_findings, table
from lodestarch.cli.quality_output import Picture, draw
from lodestarch.words.catalogues import term
from lodestarch.words.loadout import odds_sentence, recipe_text, remedy_text, stopping_sentence
from lodestarch.words.numbers import DASH, number
from lodestarch.work.planning.loadout import LoadoutAnswer

__all__ = ["loadout"]


def loadout(
    cargo: Annotated[Path, typer.Argument(metavar="CARGO", help="The cargo: clause, bins, labs (TOML).")],
    sublots: Annotated[
        Path | None, typer.Option(help="Sublots so far, in loading order: number, tonnes, shares, seconds.")
    ] = None,
    replay: Annotated[
        int | None,
        typer.Option(min=0, help="Play the cargo again: each result came so many sublots behind."),
    ] = None,
    picture: Picture = None,
    seed: Annotated[int, typer.Option(help="Of the drawing, so that the same question has one answer.")] = 1,
    as_json: AsJson = False,
    strict: Strict = False,
) -> None:
    """Running figures, odds of the end, what to draw next, whether to stop, what to do about a sublot."""
    import numpy as np

    from lodestarch.words.drawing.loadout_picture import HEIGHT_PX, loadout_picture
    from lodestarch.work.planning.loadout import load_out
    from lodestarch.work.quality.as_json import as_dict

    answer = load_out(
        (bytes_of(cargo), cargo.name),
        (bytes_of(sublots), sublots.name) if sublots is not None else None,
        np.random.default_rng(seed),
        behind=replay,
    )
    if answer.cargo is not None and answer.forecast is not None:
        drawn = loadout_picture(answer.cargo.asked, [*answer.cargo.sublots, *answer.rest], answer.forecast)
        draw(picture, [(drawn, HEIGHT_PX)], tell=not as_json)
    if as_json:
        body = as_dict(answer)
        body.pop("cargo")
        body.pop("terms")
        emit_json({"title": answer.terms.title if answer.terms else None, **body}, answer.findings)
    else:
        _show(answer)
        show_findings(answer.findings)
    finish(answer.findings, answered=answer.forecast is not None, strict=strict)


def _show(a: LoadoutAnswer) -> None:
    if a.cargo is None or a.terms is None:
        return
    asked, currency = a.cargo.asked, a.terms.currency
    floor = number(asked.at_least_s, 0)
    if a.forecast is not None:
        say(odds_sentence(a.forecast))
    judged = term(f"loadout.judged-{asked.judged}")
    say(
        term(
            "loadout.stands",
            loaded=number(a.loaded_t, 0),
            left=number(a.to_load_t, 0),
            judged=judged,
            floor=floor,
        )
    )
    if a.running and a.running[-1].untested_t > 0:
        say(term("loadout.untested", tonnes=number(a.running[-1].untested_t, 0)))
    if a.forecast is not None:
        low, middle, high = (number(v, 0) for v in a.forecast.figure_s)
        say(term("loadout.figure", floor=floor, low=low, middle=middle, high=high))
    if a.recipes:
        first = a.recipes[0]
        said = recipe_text(first.shares)
        if first.odds >= a.terms.wanted_odds:
            fn, spends = number(first.fn_s, 0), number(first.spends_t, 2)
            say(term("loadout.draw", recipe=said, fn=fn, spends=spends, currency=currency))
        else:
            say(term("loadout.draw-short", wanted=number(100 * a.terms.wanted_odds, 0), recipe=said))
    if a.stopping is not None:
        say(stopping_sentence(a.stopping, currency))
    _running(a)
    _recipes(a, currency)
    _under(a, currency)
    _moments(a)
    say()
    say(term("loadout.not-official"))


def _running(a: LoadoutAnswer) -> None:
    if not a.running:
        return
    say()
    heads = ("sublot", "tonnes", "result", "composite", "average", "least", "shortfall", "remark")
    rows = []
    for one in a.running:
        remark = term("loadout.under") if one.under_breakpoint else ""
        remark = term("loadout.waits") if one.result_s is None else remark
        rows.append(
            (
                str(one.number), number(one.tonnes, 0), number(one.result_s, 0), number(one.composite_s, 1),
                number(one.average_s, 1), number(one.least_s, 0), number(one.shortfall_s, 0), remark,
            )
        )  # fmt: skip
    sides = ("left", "right", "right", "right", "right", "right", "right", "left")
    table([(term(f"loadout.{h}-column"), s) for h, s in zip(heads, sides, strict=True)], rows)


def _recipes(a: LoadoutAnswer, currency: str) -> None:
    if not a.recipes:
        return
    say()
    table(
        [
            (term("loadout.recipe-column"), "left"),
            (term("loadout.odds-column"), "right"),
            (term("loadout.reads-column"), "right"),
            (term("loadout.spends-column", currency=currency), "right"),
        ],
        [
            (recipe_text(r.shares), number(100.0 * r.odds, 1), number(r.fn_s, 0), number(r.spends_t, 2))
            for r in a.recipes
        ],
    )


def _under(a: LoadoutAnswer, currency: str) -> None:
    for one in a.under:
        say()
        table(
            [
                (term("loadout.way-column", number=one.number), "left"),
                (term("loadout.odds-column"), "right"),
                (term("loadout.expected-column", currency=currency), "right"),
            ],
            [(remedy_text(r), number(100.0 * r.odds, 1), number(r.expected, 0)) for r in one.remedies],
        )


def _moments(a: LoadoutAnswer) -> None:
    if not a.moments:
        return
    say()
    rows = []
    for m in a.moments:
        seconds = DASH if m.event.result_s is None else number(m.event.result_s, 0)
        said = term(f"loadout.event-{m.event.what}", number=m.event.number, seconds=seconds)
        rows.append(
            (said, number(m.figures.tonnes, 0), number(m.figures.composite_s, 1),
             number(m.figures.average_s, 1), number(100.0 * m.odds, 1))
        )  # fmt: skip
    heads = ("event", "tonnes", "composite", "average", "odds")
    sides = ("left", "right", "right", "right", "right")
    table([(term(f"loadout.{h}-column"), s) for h, s in zip(heads, sides, strict=True)], rows)
