"""Files of an issued paper, made from its data: the same data, the same bytes."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Final

from lodestarch.common.canonical import sha256_hex
from lodestarch.report.issued_html import set_html
from lodestarch.report.issued_paper import IssuedPaper, NotAPaper, SaltedNames
from lodestarch.report.plain import from_plain
from lodestarch.report.scan_code import code_text, scan_code
from lodestarch.report.typeset import set_pdf
from lodestarch.words.issued.certificate import LogMark, Superseded, certificate_sheet
from lodestarch.words.issued.letter import letter_sheet
from lodestarch.words.issued.letter_statement import Letter
from lodestarch.words.issued.names import CustomerNames, LabNames
from lodestarch.words.issued.sheet import Sheet
from lodestarch.words.issued.statement import Certificate

__all__ = ["ATTACHED", "PaperFiles", "files_of", "sheet_of"]

ATTACHED: Final = {"certificate": "certificate.json", "letter": "letter.json"}
"""Name of the data attached to the PDF, by kind of paper."""


@dataclass(frozen=True, slots=True)
class PaperFiles:
    """The three files of a paper."""

    pdf: bytes
    html: bytes
    json: bytes

    def digests(self) -> dict[str, str]:
        """SHA-256 of each, by its ending."""
        return {"pdf": sha256_hex(self.pdf), "html": sha256_hex(self.html), "json": sha256_hex(self.json)}

    def by_ending(self) -> dict[str, bytes]:
        """Bytes of each, by its ending."""
        return {"pdf": self.pdf, "html": self.html, "json": self.json}


def _customer(given: SaltedNames | None) -> CustomerNames | None:
    return None if given is None else from_plain(CustomerNames, given.names, "names.customer")


def _lab(given: SaltedNames | None) -> LabNames | None:
    return None if given is None else from_plain(LabNames, given.names, "names.lab")


def log_mark(paper: IssuedPaper) -> LogMark:
    """Where the log stood before, from the paper's own entry.

    Raises
    ------
    NotAPaper
        When the entry is not one that issues a document.
    """
    try:
        row: Mapping[str, Any] = json.loads(paper.proof.entry)["data"]["changes"][0]["row"]
        return LogMark(paper.digest, int(row["head_seq"]), str(row["head_hash"]))
    except (ValueError, KeyError, TypeError, IndexError) as cause:
        raise NotAPaper("the log's entry issues no document") from cause


def _later(paper: IssuedPaper) -> Superseded | None:
    return None if paper.later is None else Superseded(paper.later["number"], paper.later["day"])


def _certificate(paper: IssuedPaper, mark: LogMark, code: str) -> Sheet:
    given, later = from_plain(Certificate, paper.statement, "statement"), _later(paper)
    return certificate_sheet(given, _customer(paper.customer), _lab(paper.lab), mark, code, later)


def _letter(paper: IssuedPaper, mark: LogMark, code: str) -> Sheet:
    given = from_plain(Letter, paper.statement, "statement")
    return letter_sheet(given, _customer(paper.customer), mark, code, _later(paper))


_SHEETS: Final[dict[str, Callable[[IssuedPaper, LogMark, str], Sheet]]] = {
    "certificate": _certificate,
    "letter": _letter,
}


def sheet_of(paper: IssuedPaper) -> Sheet:
    """Set a paper in words.

    Raises
    ------
    NotAPaper, DoesNotFit
        When its data are not of the form of its kind.
    """
    if paper.kind not in _SHEETS:
        raise NotAPaper(f"kind {paper.kind!r}")
    code = scan_code(code_text(paper.site, paper.number, paper.digest))
    return _SHEETS[paper.kind](paper, log_mark(paper), code)


def files_of(paper: IssuedPaper) -> PaperFiles:
    """Make a paper's files.

    Parameters
    ----------
    paper : IssuedPaper
        One with ``later`` says on every page that another took its place; its bytes are then not those that
        were issued.

    Raises
    ------
    NotAPaper, DoesNotFit
    """
    sheet, data = sheet_of(paper), paper.json_bytes()
    return PaperFiles(set_pdf(sheet, ATTACHED[paper.kind], data), set_html(sheet, data), data)
