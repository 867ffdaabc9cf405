"""Options that say what one tube is, shared by the ``tube`` commands."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from lodestarch.common.findings import Finding
from lodestarch.tube.parameters import ParameterSet, set_names
from lodestarch.work.tube.sets import set_from, set_named

__all__ = [
    "Decay", "Elevation", "Ln", "Mass", "Moisture", "Origins", "Picture", "Place", "PressureIs", "Reads",
    "Seed", "SetName", "Share", "Sound", "Sprouted", "Start", "StirFrom", "TubeActivity", "Wall", "Water",
    "chosen_set",
]  # fmt: skip

Ln = Annotated[float | None, typer.Option("--ln", help="Enzyme: liquefaction number of the meal.")]
TubeActivity = Annotated[
    float | None, typer.Option("--activity", help="Enzyme: LN units above enzyme-free meal.")
]
Share = Annotated[
    float | None, typer.Option("--share", help="Enzyme: sprouted grain among sound grain, by dry mass. [%]")
]
Reads = Annotated[
    float | None, typer.Option("--reads", help="Enzyme: what the meal reads under standard conditions. [s]")
]
Sound = Annotated[float, typer.Option("--sound", help="With --share: what the sound grain reads. [s]")]
Sprouted = Annotated[
    float, typer.Option("--sprouted", help="With --share: what the sprouted grain reads. [s]")
]
Mass = Annotated[float, typer.Option("--mass", help="Portion as weighed. [g]")]
Moisture = Annotated[float, typer.Option("--moisture", help="True moisture of the meal. [%]")]
Water = Annotated[float, typer.Option("--water", help="Water. [mL]")]
Start = Annotated[float, typer.Option("--start", help="Slurry and glass when lowered. [°C]")]
Place = Annotated[
    str | None,
    typer.Option("--place", help="Pressure or elevation with its unit: 908hPa, 26.8inHg, 914m, 3000ft."),
]
Elevation = Annotated[
    str | None, typer.Option(help="Elevation of the bench, to tell a pressure reduced to sea level: 520m.")
]
PressureIs = Annotated[
    str | None, typer.Option(help="Which pressure it is, where you know: station or sea-level.")
]
Wall = Annotated[float, typer.Option("--wall", help="Glass. [mm]")]
StirFrom = Annotated[float, typer.Option("--stir-from", help="First stroke after lowering. [s]")]
Decay = Annotated[
    float | None,
    typer.Option("--decay", help="Decay of the enzyme at 85 °C, in place of that of its origin. [1/s]"),
]
Origins = Annotated[
    list[str] | None,
    typer.Option("--origin", help="Origin of the enzyme, several with shares: germination:0.7 fungal:0.3."),
]
SetName = Annotated[
    str,
    typer.Option("--set", help=f"Set of constants: {', '.join(set_names())}, or the file of a fitted one."),
]
Picture = Annotated[Path | None, typer.Option("--out", "-o", help="Write the picture here, as SVG.")]
Seed = Annotated[
    int, typer.Option("--seed", help="Of chance, so that the same question gives the same answer.")
]


def chosen_set(name: str) -> tuple[ParameterSet | None, tuple[Finding, ...]]:
    """A shipped set by name, else the file of a fitted one."""
    if name in set_names() or not Path(name).is_file():
        return set_named(name)
    return set_from(Path(name))
