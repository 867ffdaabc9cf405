"""``tube fit``: the model fitted to a lab's own runs."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from lodestarch.cli import tube_options as opt
from lodestarch.cli.files import bytes_of
from lodestarch.cli.options import AsJson
from lodestarch.cli.output import emit_json, finish, say, show_findings, table
from lodestarch.cli.tube_output import notes_of, say_limits, write_text
from lodestarch.words.catalogues import term
from lodestarch.words.numbers import DASH, figure, number
from lodestarch.words.tube import signed, standing_text
from lodestarch.work.tube.fit import FitAnswer

__all__ = ["fit"]

_LUMPED = "paste_exponent,paste_energy_j_mol,paste_time_s,cutting_rate_per_s"


def fit(
    runs: Annotated[
        Path, typer.Argument(metavar="FILE", help="Your runs: CSV or xlsx, a row a tube (docs/tube.md).")
    ],
    move: Annotated[str, typer.Option(help="Constants that the fit moves, with commas between.")] = _LUMPED,
    with_published: Annotated[
        bool, typer.Option("--with-published", help="Fit the published figures along.")
    ] = False,
    posterior: Annotated[
        bool, typer.Option("--posterior", help="Sample the posterior as well: margins of 95 %.")
    ] = False,
    steps: Annotated[int, typer.Option(help="With --posterior: steps of each walk.")] = 1500,
    seed: opt.Seed = 1,
    name: Annotated[str | None, typer.Option(help="Name of the fitted set. [default: the file's]")] = None,
    set_name: opt.SetName = "ref",
    save: Annotated[
        Path | None, typer.Option(help="Write the fitted set here; --set takes it. Never overwrites.")
    ] = None,
    out: opt.Picture = None,
    as_json: AsJson = False,
) -> None:
    """Fit the model to a lab's own runs, and say what they cannot tell apart."""
    import numpy as np

    from lodestarch.words.drawing.alone import alone
    from lodestarch.words.drawing.tube_pictures import fit_picture
    from lodestarch.work.tube.fit import fit_tube
    from lodestarch.work.tube.fit_json import fit_as_dict
    from lodestarch.work.tube.sets import keep_set

    params, odd = opt.chosen_set(set_name)
    if params is None:
        if as_json:
            emit_json(fit_as_dict(None, None), odd)
        else:
            show_findings(odd)
        finish(odd, answered=False)
        return
    data = bytes_of(runs)
    keys = tuple(key.strip() for key in move.split(",") if key.strip())
    answer = fit_tube(
        data, runs.name, params, name=name or runs.stem, keys=keys, with_published=with_published,
        walk_steps=steps if posterior else None, rng=np.random.default_rng(seed),
    )  # fmt: skip
    made = answer.fit
    if made is not None and save is not None:
        keep_set(made.params, save)
    if made is not None and out is not None:
        write_text(
            out, alone([fit_picture(made.residuals)], [term("tube.residuals-note"), *notes_of(made.limits)])
        )
    if as_json:
        emit_json(fit_as_dict(answer, seed if posterior else None), answer.findings)
    else:
        _show(answer)
        for path in (save, out):
            if made is not None and path is not None:
                say(f"{path}: {path.stat().st_size} bytes")
        say_limits(made.limits if made else ())
        show_findings(answer.findings)
    finish(answer.findings, answered=made is not None)


def _show(answer: FitAnswer) -> None:
    made = answer.fit
    if made is None:
        return
    say(
        term(
            "tube.fit-said",
            name=made.params.name,
            used=answer.used,
            standing=standing_text(made.params.standing),
        )
    )
    if answer.runs.by_law:
        say(term("tube.fit-by-law", count=answer.runs.by_law))
    scale = DASH if made.scale is None else number(made.scale, 2)
    say(term("tube.fit-scale", squares=number(made.sum_of_squares, 2), freedom=made.freedom, scale=scale))
    say()
    margins = {m.name: m for m in answer.posterior.margins} if answer.posterior else {}
    rows = []
    for one in made.estimates:
        u = term("tube.fit-open") if one.u_relative is None else f"{number(100.0 * one.u_relative, 0)} %"
        margin = margins.get(one.name)
        span = f"{_short(margin.low)} … {_short(margin.high)}" if margin else ""
        told = number(100.0 * max(margin.told, 0.0), 0) if margin else ""
        rows.append((one.name, _short(one.value), u, span, told))
    more = [(term("tube.margin-column"), "right"), (term("tube.told-column"), "right")] if margins else []
    heads = [
        (term("tube.moved-column"), "left"),
        (term("tube.value-column"), "right"),
        (term("tube.u-rel-column"), "right"),
    ]
    table([*heads, *more], [row if margins else row[:3] for row in rows])
    say()
    say(term("tube.residuals-note"))
    columns = [(term("tube.run-column"), "left")] + [
        (term(f"tube.{key}-column"), "right") for key in ("observed", "modelled", "over-u")
    ]
    table(
        columns,
        [(r.key, number(r.observed_s, 1), number(r.modelled_s, 1), signed(r.over_u)) for r in made.residuals],
    )
    _show_open(answer)


def _show_open(answer: FitAnswer) -> None:
    """What the data cannot tell apart."""
    if answer.fit is None:
        return
    found = answer.fit.identified
    loose = [d for d in found.directions if not d.determined]
    say()
    say(term("tube.open-none") if not loose and not found.alike else term("tube.open-some"))
    for direction in loose:
        parts = ", ".join(f"{part} ({signed(weight, 2)})" for part, weight in direction.parts)
        say("  " + term("tube.open-direction", parts=parts))
    for first, second, r in found.alike:
        say("  " + term("tube.open-alike", first=first, second=second, r=number(r, 3)))


def _short(value: float) -> str:
    """Four digits, whatever the size of a constant."""
    return (
        f"{value:.3e}" if value != 0.0 and not 1e-2 <= abs(value) < 1e5 else figure(float(f"{value:.4g}"), 4)
    )
