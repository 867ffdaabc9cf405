"""What every ``tube`` command says with its answer: what it does not know, and where a file went."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from textwrap import wrap
from typing import Final

from lodestarch.cli.output import say
from lodestarch.common.errors import LodestarchError
from lodestarch.tube.standing import Limit
from lodestarch.words.catalogues import term
from lodestarch.words.tube import limit_text

__all__ = ["notes_of", "say_limits", "write_text"]

_WIDTH: Final = 94


def say_limits(limits: Sequence[Limit]) -> None:
    """Print what the answer does not know, as large as the answer."""
    if limits:
        say()
        say(term("tube.not-known"))
        for limit in limits:
            for i, line in enumerate(wrap(limit_text(limit), _WIDTH)):
                say(f"  {line}" if i == 0 else f"    {line}")


def notes_of(limits: Sequence[Limit]) -> list[str]:
    """The same beneath a picture."""
    return [limit_text(limit) for limit in limits]


def write_text(path: Path, text: str) -> None:
    """Write a file.

    Raises
    ------
    LodestarchError
        When it cannot be written.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8", newline="")
    except OSError as cause:
        raise LodestarchError(f"{path} cannot be written: {cause.strerror}") from None
