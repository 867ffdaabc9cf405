"""``tube sweep``: one input moved from one end to another."""

from __future__ import annotations

from typing import Annotated

import typer

from lodestarch.cli import tube_options as opt
from lodestarch.cli.options import AsJson
from lodestarch.cli.output import emit_json, finish, say, show_findings, table
from lodestarch.cli.tube_output import notes_of, say_limits, write_text
from lodestarch.common.findings import Severity
from lodestarch.words.catalogues import term
from lodestarch.words.numbers import figure, number
from lodestarch.work.tube.asked import SOUND_S, SPROUTED_S, TubeAsked
from lodestarch.work.tube.sweep import SWEPT

__all__ = ["sweep"]


def sweep(
    name: Annotated[str, typer.Argument(metavar="INPUT", help=f"One of: {', '.join(SWEPT)}.")],
    first: Annotated[float, typer.Argument(metavar="FROM", help="First value, in the unit of the input.")],
    last: Annotated[float, typer.Argument(metavar="TO", help="Last value.")],
    steps: Annotated[int, typer.Option(help="Values, both ends included: 2 to 1001.")] = 21,
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
    out: opt.Picture = None,
    as_json: AsJson = False,
) -> None:
    """Sweep one input, all else kept: what the tube then reads."""
    from lodestarch.words.drawing.alone import alone
    from lodestarch.words.drawing.tube_pictures import SWEEP_PX, sweep_picture
    from lodestarch.work.tube.as_json import limits_as_list
    from lodestarch.work.tube.sweep import sweep_tube

    own, odd = opt.chosen_set(set_name)
    asked = TubeAsked(
        ln=ln, activity=activity, share_pct=share, reads_s=reads, sound_s=sound, sprouted_s=sprouted,
        mass_g=mass, moisture_pct=moisture, water_ml=water, start_temp_c=start, place=place,
        elevation=elevation, pressure_is=pressure_is, wall_mm=wall, stir_from_s=stir_from,
        decay_85_per_s=decay, origins=tuple(origin or ("germination",)), set_name=set_name, own_set=own,
    )  # fmt: skip
    answer = sweep_tube(name, first, last, steps, asked)
    # Where the set is not known nothing else is looked at.
    findings = odd if own is None else answer.findings
    rows = [(row.value, row.seconds) for row in answer.rows]
    if out is not None and len(rows) > 1:
        write_text(out, alone([(sweep_picture(answer.key, rows), SWEEP_PX)], notes_of(answer.limits)))
    if as_json:
        body = {
            "input": answer.key or None,
            "unit": answer.unit or None,
            "set": own.name if own else set_name,
            "error_s": answer.error_s,
            "rows": [{"value": value, "seconds": round(seconds, 3)} for value, seconds in rows],
            "limits": limits_as_list(answer.limits),
        }
        emit_json(body, findings)
    else:
        if rows:
            heading = term("tube.sweep-column", name=term(f"sweep.{answer.key}"), unit=answer.unit)
            table(
                [(heading, "right"), (term("tube.seconds-column"), "right")],
                [(figure(value, 4), number(seconds, 1)) for value, seconds in rows],
            )
        if out is not None and len(rows) > 1:
            say(f"{out}: {out.stat().st_size} bytes")
        say_limits(answer.limits)
        show_findings(findings)
    # What could be computed is shown; a value that cannot be ends with 1 all the same.
    finish(findings, answered=bool(rows) and all(f.severity is not Severity.STOP for f in findings))
