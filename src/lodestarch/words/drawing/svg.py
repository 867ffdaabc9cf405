"""SVG elements as text, every value escaped: the one place where markup is put together by hand."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from html import escape
from typing import Final

__all__ = ["Drawing", "element", "finished", "percent", "sign", "text"]


@dataclass(frozen=True, slots=True)
class Drawing:
    """A finished picture.

    Templates take it as it is (``__html__``): its parts were escaped when they were put together.
    """

    svg: str
    title: str

    def __html__(self) -> str:
        """The markup, for templates that escape everything else."""
        return self.svg

    def __bool__(self) -> bool:
        return bool(self.svg)


_LENGTHS: Final = frozenset(
    {"x", "y", "x1", "x2", "y1", "y2", "cx", "cy", "r", "rx", "dx", "width", "height"}
)
_PX_PER_REM: Final = 16.0


def _value(key: str, value: float | str) -> str:
    if isinstance(value, str):
        return escape(value, quote=True)
    if key in _LENGTHS and value:
        return f"{value / _PX_PER_REM:.4f}".rstrip("0").rstrip(".") + "rem"
    return f"{value:.2f}".rstrip("0").rstrip(".")


def sign(path: str, x: str, y: float, class_: str) -> str:
    """A small shape at a place: ``path`` in pixels around the place, as large as the letters are."""
    shape = element("path", d=path, class_=class_)
    return element("svg", [shape], x=x, y=y, width=16, height=16, viewBox="0 0 16 16", class_="over")


def percent(share: float) -> str:
    """A place along the width: ``0.25`` is ``25%``."""
    return f"{100.0 * share:.3f}".rstrip("0").rstrip(".") + "%"


def element(name: str, children: Iterable[str] = (), /, **attributes: float | str | None) -> str:
    """One element with its children.

    Parameters
    ----------
    name : str
        Tag.
    children : iterable of str
        Finished markup: other elements, or text that went through :func:`text`.
    **attributes
        Lengths are numbers of pixels at the usual letter size and are written in ``rem``. Underscores
        become hyphens, a trailing one falls away (``class_``); ``None`` is left out.

    Examples
    --------
    >>> element("circle", cx="25%", cy=12.0, r=4, class_="dot")
    '<circle cx="25%" cy="0.75rem" r="0.25rem" class="dot"/>'
    """
    said = "".join(
        f' {key.rstrip("_").replace("_", "-")}="{_value(key.rstrip("_"), value)}"'
        for key, value in attributes.items()
        if value is not None
    )
    inner = "".join(children)
    return f"<{name}{said}>{inner}</{name}>" if inner else f"<{name}{said}/>"


def text(words: str, x: str | float, y: float, class_: str, anchor: str | None = None, dx: float = 0) -> str:
    """One line of text; ``anchor`` is ``start``, ``middle`` or ``end``."""
    return element(
        "text",
        [escape(words)],
        x=x,
        y=y,
        dx=dx or None,
        class_=class_,
        text_anchor=anchor if anchor != "start" else None,
    )


def finished(parts: Iterable[str], height: float, title: str, *, linked: bool = False) -> Drawing:
    """Close a picture: as wide as its place, ``height`` pixels tall, its title as its name.

    One that holds links (``linked``) is a group with hidden contents instead of an image, because what is
    inside an image cannot be reached; its links are a convenience for the pointer, the table beside it has
    them for everybody.
    """
    inside = [element("g", parts, aria_hidden="true")] if linked else parts
    role = "group" if linked else "img"
    svg = element("svg", inside, class_="drawing", width="100%", height=height, role=role, aria_label=title)
    return Drawing(svg, title)
