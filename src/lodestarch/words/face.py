"""Colours by role, light and dark: one table for page, paper and picture."""

from __future__ import annotations

from importlib.resources import files
from typing import Final

__all__ = ["DARK", "LIGHT", "contrast", "drawing_css", "roles_css"]

LIGHT: Final[dict[str, str]] = {
    "ink": "#10202B",
    "paper": "#FAFBFC",
    "quiet": "#51626D",
    "control": "#71828D",
    "line": "#CBD5DB",
    "act": "#006D77",
    "makes-it": "#0A3055",
    "too-close": "#7D3C98",
    "outside": "#B85A00",
}
"""Text and axes; ground; secondary text; borders of fields and buttons; rules between rows; links, focus and
the one main action; a lot clear of its limit, within doubt of it, and under or over it."""

DARK: Final[dict[str, str]] = {
    "ink": "#E8EEF2",
    "paper": "#0F171C",
    "quiet": "#9DB0BB",
    "control": "#6E838F",
    "line": "#2C3A43",
    "act": "#5CC8D0",
    "makes-it": "#B9DBFF",
    "too-close": "#CFA6EE",
    "outside": "#D9772B",
}


def _declared(roles: dict[str, str], scheme: str) -> str:
    return f"color-scheme: {scheme}; " + " ".join(f"--{name}: {value};" for name, value in roles.items())


def roles_css(*, light_only: bool = False) -> str:
    """Colours as CSS variables.

    Parameters
    ----------
    light_only : bool
        For paper. Otherwise dark where the system asks for it or the page is told to (``data-face``), and
        always light in print.
    """
    light = f":root {{ {_declared(LIGHT, 'light')} }}\n"
    if light_only:
        return light
    dark = _declared(DARK, "dark")
    return (
        light
        + f"@media screen and (prefers-color-scheme: dark) {{ :root:not([data-face=light]) {{ {dark} }} }}\n"
        + f"@media screen {{ :root[data-face=dark] {{ {dark} }} }}\n"
    )


def drawing_css() -> str:
    """Rules for the pictures of ``words.drawing``."""
    room = files("lodestarch.words").joinpath("drawing")
    return "".join(room.joinpath(name).read_text("utf-8") for name in ("drawing.css", "plot.css"))


def _luminance(colour: str) -> float:
    parts = [int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(first: str, second: str) -> float:
    """Contrast ratio of two colours, 1 to 21.

    Parameters
    ----------
    first, second : str
        ``#RRGGBB``.

    References
    ----------
    .. [1] W3C, Web Content Accessibility Guidelines 2.2, relative luminance and contrast ratio.

    Examples
    --------
    >>> round(contrast("#000000", "#FFFFFF"), 1)
    21.0
    """
    a, b = sorted((_luminance(first), _luminance(second)), reverse=True)
    return (a + 0.05) / (b + 0.05)
