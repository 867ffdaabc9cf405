"""``tube``: the model of what happens between lowering and the seconds."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from lodestarch.cli import tube_options as opt
from lodestarch.cli.options import AsJson
from lodestarch.cli.output import emit_json, finish, say, show_findings, table
from lodestarch.cli.tube_budget import budget
from lodestarch.cli.tube_fit import fit
from lodestarch.cli.tube_output import notes_of, say_limits, write_text
from lodestarch.cli.tube_sweep import sweep
from lodestarch.words.catalogues import term
from lodestarch.words.numbers import number
from lodestarch.words.tube import landmark_rows, standing_text
from lodestarch.work.tube.asked import SOUND_S, SPROUTED_S, TubeAsked

__all__ = ["tube_app"]

tube_app = typer.Typer(
    help="What happens in the tube: a model that explains and ranks, and never corrects a result.",
    no_args_is_help=True,
)
tube_app.command()(sweep)
tube_app.command()(budget)
tube_app.command()(fit)


@tube_app.command("run")
def run(
    ln: opt.Ln = None,
    activity: opt.TubeActivity = None,
    share: opt.Share = None,
    reads: opt.Reads = None,
    sound: opt.Sound = SOUND_S,
    sprouted: opt.Sprouted = SPROUTED_S,
    mass: opt.Mass = 7.0,
    moisture: opt.Moisture = 14.0,
    water: opt.Water = 25.0,
    start: opt.Start = 22.0,
    place: opt.Place = None,
    elevation: opt.Elevation = None,
    pressure_is: opt.PressureIs = None,
    wall: opt.Wall = 1.4,
    stir_from: opt.StirFrom = 5.0,
    decay: opt.Decay = None,
    origin: opt.Origins = None,
    set_name: opt.SetName = "ref",
    history: Annotated[
        Path | None, typer.Option(help="Write the whole history here, as CSV, a row a half second.")
    ] = None,
    out: opt.Picture = None,
    as_json: AsJson = False,
) -> None:
    """Run one tube: what it is computed to read, and what happens in it."""
    from lodestarch.words.drawing.alone import alone
    from lodestarch.words.drawing.tube_pictures import curves_of
    from lodestarch.work.tube.as_json import tube_as_dict
    from lodestarch.work.tube.history_csv import history_csv
    from lodestarch.work.tube.run import run_tube
    from lodestarch.work.tube.trace import trace_of

    own, odd = opt.chosen_set(set_name)
    asked = TubeAsked(
        ln=ln, activity=activity, share_pct=share, reads_s=reads, sound_s=sound, sprouted_s=sprouted,
        mass_g=mass, moisture_pct=moisture, water_ml=water, start_temp_c=start, place=place,
        elevation=elevation, pressure_is=pressure_is, wall_mm=wall, stir_from_s=stir_from,
        decay_85_per_s=decay, origins=tuple(origin or ("germination",)), set_name=set_name, own_set=own,
    )  # fmt: skip
    answer = run_tube(asked, until_s=7200.0)
    # Where the set is not known nothing else is looked at.
    findings = odd if own is None else answer.findings
    h = answer.history
    if h is not None and history is not None:
        write_text(history, history_csv(h))
    if h is not None and answer.marks is not None and out is not None:
        pictures = curves_of([trace_of(h)], [answer.marks], heights=(200.0, 170.0, 170.0, 220.0))
        write_text(out, alone(pictures, notes_of(answer.limits)))
    if as_json:
        body = tube_as_dict(answer)
        emit_json({**body, "history": str(history) if h is not None and history else None}, findings)
        finish(findings, answered=h is not None)
        return
    if h is not None and answer.marks is not None:
        say(term("tube.reads", seconds=number(h.seconds, 0)))
        said = {
            "ln": number(h.activity + h.params.offset, 1), "activity": number(h.activity, 1),
            "bath": number(h.bath_c, 2), "set": h.params.name, "standing": standing_text(h.params.standing),
        }  # fmt: skip
        say(term("tube.reads-quiet", **said))
        say()
        table([("", "left"), ("", "right")], landmark_rows(answer.marks))
        for path in (history, out):
            if path is not None:
                say(f"{path}: {path.stat().st_size} bytes")
    say_limits(answer.limits)
    show_findings(findings)
    finish(findings, answered=h is not None)
