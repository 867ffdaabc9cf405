"""The loading sheet as PDF: one blend a block, on A4 or Letter, black and white, ready for the gates."""

from __future__ import annotations

import json
from dataclasses import asdict
from datetime import datetime
from functools import lru_cache
from importlib.resources import files
from typing import Any, Final, Literal

import typst

from lodestarch.words.issued.printable import printable
from lodestarch.words.loading_paper import LoadingPaper

__all__ = ["PAPERS", "PaperSize", "loading_sheet_pdf"]

PaperSize = Literal["a4", "letter"]
PAPERS: Final[dict[PaperSize, str]] = {"a4": "a4", "letter": "us-letter"}
"""Sizes of paper, by their names in addresses and as the page setter calls them."""

_STANDARDS: Final = ("a-3a", "ua-1")


@lru_cache(maxsize=1)
def _setter() -> typst.Compiler:
    """The page setter with our fonts and no others; made once, because fonts are read once."""
    report = files("lodestarch.report")
    folder = str(report.joinpath("fonts"))
    fonts = typst.Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=[folder])
    template = str(report.joinpath("templates", "loading_sheet.typ"))
    return typst.Compiler(template, font_paths=fonts, ignore_system_fonts=True)


def _clean(value: Any) -> Any:
    """Text from anywhere made fit for paper, in whatever holds it."""
    if isinstance(value, str):
        return printable(value, 400)
    if isinstance(value, dict):
        return {key: _clean(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [_clean(one) for one in value]
    return value


def loading_sheet_pdf(paper: LoadingPaper, made_at: datetime, size: PaperSize = "a4") -> bytes:
    """Set a loading sheet; the same paper and moment give the same bytes.

    Parameters
    ----------
    paper : LoadingPaper
    made_at : datetime
        Date of the document, with time zone.
    size : str
        ``a4`` or ``letter``.
    """
    inputs = {"sheet": json.dumps(_clean(asdict(paper)), ensure_ascii=False), "paper": PAPERS[size]}
    made: Any = _setter().compile(
        format="pdf",
        pdf_standards=list(_STANDARDS),
        sys_inputs=inputs,
        timestamp=made_at.replace(microsecond=0),
    )
    return bytes(made)
