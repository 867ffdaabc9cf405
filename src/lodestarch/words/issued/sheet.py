"""The blocks that every issued paper is made of, in words, the same for PDF and HTML."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = [
    "Banner", "Block", "Bullets", "Code", "Column", "Figure", "Heading", "Picture", "Rows", "Sheet", "Table",
    "Text",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Banner:
    """A line in a frame: what nobody may overlook."""

    text: str
    block: str = "banner"


@dataclass(frozen=True, slots=True)
class Heading:
    """Heading of a section."""

    text: str
    block: str = "heading"


@dataclass(frozen=True, slots=True)
class Text:
    """A paragraph."""

    text: str
    style: str = ""
    """Empty, ``small``, ``strong`` or ``lead``."""
    block: str = "text"


@dataclass(frozen=True, slots=True)
class Bullets:
    """A list of sentences."""

    items: tuple[str, ...]
    block: str = "bullets"


@dataclass(frozen=True, slots=True)
class Rows:
    """Names with what they say, a line each."""

    rows: tuple[tuple[str, str], ...]
    block: str = "rows"


@dataclass(frozen=True, slots=True)
class Column:
    """Head of a column; ``right``: numbers, set to the right."""

    name: str
    right: bool = False
    share: int = 1
    """Part of the width."""


@dataclass(frozen=True, slots=True)
class Table:
    """A table with a head that repeats on each page."""

    name: str
    """What it lists, for readers that read aloud."""
    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    block: str = "table"


@dataclass(frozen=True, slots=True)
class Figure:
    """A result in large numerals with what it rests on."""

    sign: str
    figure: str
    unit: str
    after: str
    quiet: str
    block: str = "figure"


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawing with its words."""

    svg: str
    alt: str
    caption: str
    height_mm: float
    block: str = "picture"


@dataclass(frozen=True, slots=True)
class Code:
    """A code for a scanner with the same in plain text."""

    svg: str
    alt: str
    lines: tuple[str, ...]
    block: str = "code"


Block = Banner | Heading | Text | Bullets | Rows | Table | Figure | Picture | Code


@dataclass(frozen=True, slots=True)
class Sheet:
    """One paper, ready to be set.

    ``running`` identifies it on every page; ``page`` holds ``{n}`` and ``{m}``; ``marked`` is said on every
    page of a demonstration, and ``warned`` on every page of a paper that was superseded.
    """

    title: str
    author: str
    locale: str
    paper: str
    issued_at: str
    running: str
    foot: str
    page: str
    marked: str
    warned: str
    head: tuple[str, ...]
    """Who hands it over: name, address."""
    code: Code | None
    blocks: tuple[Block, ...]
    end: str
    compact: int = 0
    """Above 0: has to fit one page; the more there is to say, the higher, and the smaller the letters."""
