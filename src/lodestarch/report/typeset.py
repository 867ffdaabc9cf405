"""Papers as PDF: one page setter, one template, data passed in as data and never as source.

The PDF is tagged (PDF/UA-1) and fit for keeping (PDF/A-3a, which allows the attached data). Its dates are
those of the issue, its fonts are ours, and nothing of the machine enters: the same data give the same bytes.
"""

from __future__ import annotations

import json
from dataclasses import asdict
from datetime import datetime
from functools import lru_cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any, Final

from lodestarch.words.issued.sheet import Sheet

if TYPE_CHECKING:
    import typst

__all__ = ["FONT_FOLDER", "STANDARDS", "TEMPLATE", "page_setter", "set_pdf", "template_inputs"]

STANDARDS: Final = ("a-3a", "ua-1")
TEMPLATE: Final = str(files("lodestarch.report").joinpath("templates", "issued.typ"))
FONT_FOLDER: Final = str(files("lodestarch.report").joinpath("fonts"))


@lru_cache(maxsize=1)
def page_setter() -> typst.Compiler:
    """The page setter with our fonts and no others; made once, because fonts are read once."""
    import typst  # noqa: PLC0415 - a native library that most commands never need

    fonts = typst.Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=[FONT_FOLDER])
    return typst.Compiler(TEMPLATE, font_paths=fonts, ignore_system_fonts=True)


def template_inputs(sheet: Sheet, name: str, attached: bytes | None) -> dict[str, str]:
    """What the template reads: the sheet, and the data to attach."""
    inputs = {"sheet": json.dumps(asdict(sheet), ensure_ascii=False), "name": name}
    if attached is not None:
        inputs["attached"] = attached.decode("utf-8")
    return inputs


def set_pdf(sheet: Sheet, name: str, attached: bytes | None = None) -> bytes:
    """Set a paper.

    Parameters
    ----------
    sheet : Sheet
    name : str
        Name of the attached file.
    attached : bytes or None
        Data to attach.

    Returns
    -------
    bytes
        The PDF.
    """
    made: Any = page_setter().compile(
        format="pdf",
        pdf_standards=list(STANDARDS),
        sys_inputs=template_inputs(sheet, name, attached),
        # PDF dates go to the second.
        timestamp=datetime.fromisoformat(sheet.issued_at).replace(microsecond=0),
    )
    return bytes(made)
