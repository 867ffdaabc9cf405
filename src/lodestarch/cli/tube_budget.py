"""``tube budget``: what a bench can do about a reading."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from lodestarch.cli import tube_options as opt
from lodestarch.cli.files import bytes_of
from lodestarch.cli.options import AsJson
from lodestarch.cli.output import emit_json, finish, say, show_findings, table
from lodestarch.cli.tube_output import notes_of, say_limits, write_text
from lodestarch.common.findings import Severity
from lodestarch.words.catalogues import term
from lodestarch.words.numbers import figure, number
from lodestarch.words.tube import signed, spread_text
from lodestarch.work.tube.asked import TubeAsked

__all__ = ["budget"]


def budget(
    readings: Annotated[list[float], typer.Argument(metavar="SECONDS", help="Falling numbers: 200 300 400.")],
    bench: Annotated[
        Path | None, typer.Option(help="How far your own bench's inputs stray, TOML (docs/tube.md).")
    ] = None,
    points: Annotated[int, typer.Option(help="Base points of the Sobol shares; 0 leaves them out.")] = 2048,
    seed: opt.Seed = 1,
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
    """Seconds per 0.05 g, 0.2 mL, ... at a reading, and which input makes how much of its scatter."""
    import numpy as np

    from lodestarch.sheets.tube_bench import read_tube_bench
    from lodestarch.words.drawing.alone import alone
    from lodestarch.words.drawing.tube_pictures import budget_pictures
    from lodestarch.work.tube.budget import budget_tube

    own, odd = opt.chosen_set(set_name)
    asked = TubeAsked(
        mass_g=mass, moisture_pct=moisture, water_ml=water, start_temp_c=start, place=place,
        elevation=elevation, pressure_is=pressure_is, wall_mm=wall, stir_from_s=stir_from,
        decay_85_per_s=decay, origins=tuple(origin or ("germination",)), set_name=set_name, own_set=own,
    )  # fmt: skip
    stray = None
    if bench is not None:
        stray, more = read_tube_bench(bytes_of(bench), bench.name)
        odd = (*odd, *more)
    # Never answer for another set or bench than the one that was named.
    named = own is not None and (bench is None or stray is not None)
    answer = budget_tube(
        tuple(readings) if named else (),
        asked,
        bench=stray,
        points=points or None,
        rng=np.random.default_rng(seed),
    )
    findings = (*odd, *answer.findings) if named else odd
    levels = [level for level in answer.levels if level.lines.activity is not None]
    if out is not None and levels:
        pictures = [p for level in levels for p in budget_pictures(level.lines, level.parts, level.shares)]
        write_text(out, alone(pictures, notes_of(answer.limits)))
    if as_json:
        from lodestarch.work.tube.budget_json import budget_as_dict

        emit_json(budget_as_dict(answer, seed if points else None), findings)
    else:
        if levels:
            _show(levels, answer)
        if out is not None and levels:
            say(f"{out}: {out.stat().st_size} bytes")
        say_limits(answer.limits)
        show_findings(findings)
    finish(findings, answered=bool(levels) and all(f.severity is not Severity.STOP for f in findings))


def _show(levels: list[Any], answer: Any) -> None:
    """Tables: seconds per disturbance, then the parts of the scatter of the stated bench."""
    heads = [(term("tube.seconds", seconds=figure(level.lines.reading_s, 1)), "right") for level in levels]
    say(term("tube.budget-lines"))
    rows = [
        (
            term("tube.change", amount=figure(line.amount), unit=line.unit, name=term(f"input.{line.key}")),
            *(signed(level.lines.lines[i].more_s) for level in levels),
            "" if line.measured else term("tube.never-measured"),
        )
        for i, line in enumerate(levels[0].lines.lines)
    ]
    table([("", "left"), *heads, ("", "left")], rows)
    say()
    say(
        term(
            "tube.budget-bench",
            bench=term("tube.bench-shipped") if answer.bench.name == "shipped" else answer.bench.name,
        )
    )
    keys = [part.key for part in levels[0].parts]
    spreads = answer.bench.spreads
    parts_unit = {part.key: part.unit for part in levels[0].parts}
    rows = [
        (
            term(f"input.{key}"),
            *(number(level.parts[i].u_s, 1) for level in levels),
            *(number(100.0 * float(level.shares.shares.first[i]), 0) for level in levels if level.shares),
            spread_text(spreads[key].shape, spreads[key].width, parts_unit[key])
            + f", {spreads[key].provenance.value}",
        )
        for i, key in enumerate(keys)
    ]
    rows.append(
        (
            term("tube.together"),
            *(number(level.u_s, 1) for level in levels),
            *("" for level in levels if level.shares),
            "",
        )
    )
    shares = [
        (term("tube.share-column", seconds=figure(level.lines.reading_s, 1)), "right")
        for level in levels
        if level.shares
    ]
    us = [(term("tube.u-column", seconds=figure(level.lines.reading_s, 1)), "right") for level in levels]
    table([("", "left"), *us, *shares, (term("tube.spread-column"), "left")], rows)
    say(term("tube.budget-note"))
