"""A picture as a file of its own: with its colours and letters inside, as wide as stated."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from typing import Final

from lodestarch.words.drawing.svg import Drawing, element
from lodestarch.words.face import drawing_css, roles_css

__all__ = ["alone"]

_MARGIN_PX: Final = 28.0
_LINE_PX: Final = 24.0
_LETTER_PX: Final = 8.6


def _lines(words: str, width_px: float) -> list[str]:
    """Words in lines that fit a width."""
    lines = [""]
    for word in words.split():
        longer = f"{lines[-1]} {word}".strip()
        if len(longer) * _LETTER_PX > width_px and lines[-1]:
            lines.append(word)
        else:
            lines[-1] = longer
    return lines


def alone(pictures: Sequence[tuple[Drawing, float]], notes: Sequence[str], *, width_px: float = 880.0) -> str:
    """Put pictures beneath each other into one SVG file.

    Parameters
    ----------
    pictures : sequence of (Drawing, float)
        Each with its height in pixels; its title is written above it.
    notes : sequence of str
        Sentences beneath them, as large as the titles: what the pictures do not know.
    width_px : float
        Of the file.
    """
    inner = width_px - 2.0 * _MARGIN_PX
    y = _MARGIN_PX
    parts = []
    for picture, height in pictures:
        for line in _lines(picture.title, inner):
            y += _LINE_PX
            parts.append(_said(line, y, "title"))
        y += 14.0
        parts.append(
            element("svg", [picture.svg], x=_MARGIN_PX, y=y, width=inner, height=height, class_="over")
        )
        y += height + 18.0
    for note in notes:
        for i, line in enumerate(_lines(note, inner)):
            y += _LINE_PX + (8.0 if i == 0 else 0.0)
            parts.append(_said(line, y, "note"))
    y += _MARGIN_PX
    style = (
        roles_css(light_only=True)
        + drawing_css()
        + 'svg { font-family: "Source Sans 3", "Segoe UI", "Helvetica Neue", Arial, sans-serif; }\n'
        + ".title, .note { font-size: 1.0625rem; fill: var(--ink); } .title { font-weight: 600; }\n"
        + ".ground { fill: var(--paper); }\n"
    )
    ground = '<rect class="ground" width="100%" height="100%"/>'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width_px:.0f}" height="{y:.0f}" '
        f'viewBox="0 0 {width_px:.0f} {y:.0f}" font-size="16">\n<style>{style}</style>\n'
        f"{ground}\n{''.join(parts)}\n</svg>\n"
    )


def _said(line: str, y: float, class_: str) -> str:
    return element("text", [escape(line)], x=_MARGIN_PX, y=y, class_=class_)
