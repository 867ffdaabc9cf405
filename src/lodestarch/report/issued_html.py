"""Issued papers as one HTML page each: the same blocks as the PDF, and the same data inside."""

from __future__ import annotations

import json
from functools import lru_cache
from importlib.resources import files
from typing import Final

from markupsafe import Markup

from lodestarch.report.page import Trusted, environment, fonts_css
from lodestarch.words.issued.sheet import Sheet

__all__ = ["DATA_ID", "data_in_html", "set_html"]

DATA_ID: Final = "paper-data"
_OPEN: Final = f'<script type="application/json" id="{DATA_ID}">'
_CLOSE: Final = "</script>"


def _held(attached: bytes) -> Markup:
    """Data as they can stand inside a page: no sign that could end the element."""
    text = json.dumps(json.loads(attached), ensure_ascii=True, separators=(",", ":"), sort_keys=True)
    safe = text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")
    return Markup(_OPEN + safe + _CLOSE)  # noqa: S704 - ASCII JSON without < > &


@lru_cache(maxsize=1)
def _style() -> Trusted:
    """Style of issued papers alone: what other pages change must not change papers that are out."""
    own = files("lodestarch.report").joinpath("templates/issued.css").read_text("utf-8")
    return Trusted(fonts_css() + own)


def set_html(sheet: Sheet, attached: bytes | None = None) -> bytes:
    """Set a paper as a page that needs nothing else.

    Parameters
    ----------
    sheet : Sheet
    attached : bytes or None
        Data to hold in the page; no browser shows or runs them.
    """
    page = (
        environment()
        .get_template("issued.html.j2")
        .render(
            style=_style(),
            sheet=sheet,
            svg=Markup,  # pictures are drawn by us, every text in them escaped
            data=Markup("") if attached is None else _held(attached),
        )
    )
    return page.encode("utf-8")


def data_in_html(page: bytes) -> bytes | None:
    """Return the data that a page holds; ``None`` where it holds none."""
    text = page.decode("utf-8", "replace")
    start = text.find(_OPEN)
    end = text.find(_CLOSE, start)
    return None if start < 0 or end < 0 else text[start + len(_OPEN) : end].encode("utf-8")
