"""Options that ``odds``, ``aim``, ``retest`` and ``referee`` share, worded once."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Annotated

import typer

from lodestarch.cli.options import decimal
from lodestarch.cli.output import emit_json, finish, show_findings
from lodestarch.common.findings import Finding

__all__ = [
    "AtMost",
    "CountsFrom",
    "CountsTo",
    "Limit",
    "OtherBias",
    "OtherBiasU",
    "OtherU",
    "U",
    "amount",
    "answer_out",
    "bytes_of",
]


def amount(text: str | float) -> float:
    """Read a finite number with a decimal comma or point; a default is a number already."""
    value = text if isinstance(text, float) else decimal(text)
    if not math.isfinite(value):
        raise typer.BadParameter(f"{text!r} is not a number; type it as 12.4 or 12,4")
    return value


U = Annotated[
    str | None,
    typer.Option(
        help="Standard uncertainty of a result here: seconds, or a share such as 3%. [default: tube scatter]"
    ),
]
Limit = Annotated[float | None, typer.Option(parser=amount, help="Floor. [s]")]
AtMost = Annotated[float | None, typer.Option(parser=amount, help="Ceiling; with a floor, a window. [s]")]
CountsFrom = Annotated[
    float | None,
    typer.Option(parser=amount, help="Smallest unrounded report that counts as the floor, such as 299.5."),
]
CountsTo = Annotated[
    float | None, typer.Option(parser=amount, help="Largest unrounded report that counts as the ceiling.")
]
OtherU = Annotated[
    float | None, typer.Option(parser=amount, help="Scatter of one report of the lab that decides. [s]")
]
OtherBias = Annotated[float, typer.Option(parser=amount, help="What it reads above this bench. [s]")]
OtherBiasU = Annotated[float, typer.Option(parser=amount, help="How sure that is. [s]")]


def bytes_of(path: Path | None, option: str) -> tuple[str, bytes] | None:
    """Name and bytes of a file; a file that is not there ends the command at its option."""
    if path is None:
        return None
    if not path.is_file():
        raise typer.BadParameter(f"no file at {path}", param_hint=option)
    return path.name, path.read_bytes()


def answer_out(
    body: Callable[[], Mapping[str, object]],
    said: Callable[[], None],
    findings: Sequence[Finding],
    *,
    answered: bool,
    as_json: bool,
) -> None:
    """Give an answer as one JSON object or in words with its findings, and leave by whether there is one."""
    if as_json:
        emit_json(body(), findings)
    else:
        said()
        show_findings(findings)
    finish(findings, answered=answered)
