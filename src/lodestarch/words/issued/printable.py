"""Text from anywhere made fit for paper.

A name may hold markup, line ends, signs that no font has, or five thousand letters. On paper it is one piece
of text on its lines: control signs become blanks, signs that the bundled font lacks a question mark, what is
too long is shortened and says so, and a run without blanks may be broken. The data that go with the paper
hold the text whole.
"""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache
from importlib.resources import files
from typing import Final

__all__ = ["BREAK", "LONGEST", "font_signs", "printable"]

LONGEST: Final = 160
"""Signs of one text on paper; longer ones are shortened. A setting of ours: two lines of a column."""

BREAK: Final = "\u200b"
"""Where a run without blanks may be broken; seen by nobody."""

_RUN: Final = 24
"""Signs without a blank after which a break is allowed."""
_BLANKS: Final = re.compile(r"\s+")
_LONG_RUN: Final = re.compile(rf"[^\s\-{BREAK}]{{{_RUN + 1},}}")


@lru_cache(maxsize=1)
def font_signs() -> frozenset[int]:
    """Code points that both weights of the bundled font hold."""
    found: set[int] = set()
    for line in files("lodestarch.words.issued").joinpath("font_ranges.txt").read_text("utf-8").splitlines():
        if line and not line.startswith("#"):
            first, _, last = line.partition("-")
            found.update(range(int(first, 16), int(last or first, 16) + 1))
    return frozenset(found)


def _sign(character: str) -> str:
    kind = unicodedata.category(character)
    if kind in {"Cc", "Zl", "Zp", "Zs"}:
        # The two blanks that keep a number and its unit together stay what they are.
        return character if character in "\u00a0\u202f" else " "
    if kind in {"Cf", "Cs", "Co", "Cn"}:
        return ""  # turns of writing direction, joiners, halves of pairs: nothing that prints
    return character if ord(character) in font_signs() else "?"


def printable(text: str | None, longest: int = LONGEST) -> str:
    r"""Return text as it can stand on paper; empty for nothing.

    Parameters
    ----------
    text : str or None
    longest : int
        Signs at most; a longer text ends in an ellipsis.

    Examples
    --------
    >>> printable("#let x = $y$\n<b>Müller</b>")
    '#let x = $y$ <b>Müller</b>'
    >>> printable("a" * 5000, 10)
    'aaaaaaaaa…'
    """
    composed = unicodedata.normalize("NFC", text or "")[: 4 * longest + 4]
    line = _BLANKS.sub(_one_blank, "".join(_sign(c) for c in composed)).strip(" ")
    if len(line) > longest:
        line = line[: longest - 1].rstrip(" ") + "…"
    return _LONG_RUN.sub(lambda run: BREAK.join(_pieces(run.group())), line)


def _one_blank(found: re.Match[str]) -> str:
    run = found.group()
    return run if len(run) == 1 else " "


def _pieces(run: str) -> list[str]:
    return [run[i : i + _RUN] for i in range(0, len(run), _RUN)]
