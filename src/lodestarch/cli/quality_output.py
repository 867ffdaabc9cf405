"""What the quality commands share: files read, pictures written, optional figures shown."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer

from lodestarch.cli.output import say
from lodestarch.cli.tube_output import write_text
from lodestarch.words.catalogues import term
from lodestarch.words.drawing.alone import alone
from lodestarch.words.drawing.svg import Drawing
from lodestarch.words.numbers import DASH, figure

__all__ = ["Picture", "QualityFile", "draw", "short"]

QualityFile = Annotated[Path, typer.Argument(metavar="FILE", help="CSV or xlsx.")]
Picture = Annotated[Path | None, typer.Option("--picture", "-o", help="Write the picture here, as SVG.")]


def draw(path: Path | None, pictures: Sequence[tuple[Drawing, float]], *, tell: bool) -> None:
    """Write pictures beneath each other into one file, where one is wanted and there is something to draw."""
    if path is None or not pictures:
        return
    write_text(path, alone(pictures, ()))
    if tell:
        say(term("quality.written", path=path, bytes=path.stat().st_size))


def short(value: float | None, digits: int = 4) -> str:
    """Write a figure of any size with a few digits; a dash where there is none."""
    return DASH if value is None else figure(float(f"{value:.{digits}g}"), digits)
