"""SVG elements as text, every value escaped: the one place where markup is put together by hand."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from html import escape

__all__ = ["Drawing", "element", "finished", "percent", "text"]


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


def _value(value: float | str) -> str:
    if isinstance(value, str):
        return escape(value, quote=True)
    return f"{value:.2f}".rstrip("0").rstrip(".")


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
        Underscores become hyphens, a trailing one falls away (``class_``); ``None`` is left out.

    Examples
    --------
    >>> element("circle", cx="25%", cy=12.0, r=4, class_="dot")
    '<circle cx="25%" cy="12" r="4" class="dot"/>'
    """
    said = "".join(
        f' {key.rstrip("_").replace("_", "-")}="{_value(value)}"'
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


def finished(parts: Iterable[str], height: float, title: str) -> Drawing:
    """Close a picture: as wide as its place, ``height`` pixels tall, its title as its name."""
    svg = element("svg", parts, class_="drawing", width="100%", height=height, role="img", aria_label=title)
    return Drawing(svg, title)
