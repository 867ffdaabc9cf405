"""Papers of one sample as its page lists them, and a paper's file out of the records."""

from __future__ import annotations

from dataclasses import dataclass

from lodestarch.common.errors import UnknownName
from lodestarch.records.engine import Records
from lodestarch.records.tables import Document
from lodestarch.report.issued import files_of
from lodestarch.work.issuing.certificate import CERTIFICATE
from lodestarch.work.issuing.gather import sample_code
from lodestarch.work.issuing.letter import LETTER
from lodestarch.work.issuing.papers import document_numbered, number_of, paper_now, successor_of

__all__ = ["SET_AGAIN", "PaperLine", "PapersOf", "paper_file", "papers_of"]

SET_AGAIN = (CERTIFICATE, LETTER)
"""Kinds of paper that can be made again from the records."""


@dataclass(frozen=True, slots=True)
class PaperLine:
    """One paper that was issued."""

    number: str
    kind: str
    issued_at: str
    superseded_by: str | None


@dataclass(frozen=True, slots=True)
class PapersOf:
    """Papers of a sample, the latest first; ``released``: there is a result that can be stated."""

    sample: str
    released: bool
    papers: tuple[PaperLine, ...]

    @property
    def has_certificate(self) -> bool:
        """A certificate stands."""
        return any(p.kind == CERTIFICATE and p.superseded_by is None for p in self.papers)


def papers_of(records: Records, code: str) -> PapersOf:
    """Return what was issued of a sample.

    Raises
    ------
    UnknownName
        When nothing is kept under the code.
    """
    with records.view() as view:
        sample = sample_code(view, code)
        if sample is None:
            raise UnknownName("ticket", code, ())
        documents = {d.key: d for one in view.issued_from(sample) for d in one.documents}
        lines = []
        for document in sorted(
            documents.values(), key=lambda d: (d.issued_at, len(d.key), d.key), reverse=True
        ):
            later = successor_of(view, document)
            name = None if later is None else number_of(view.site, later.key)
            lines.append(
                PaperLine(number_of(view.site, document.key), document.kind, document.issued_at, name)
            )
        return PapersOf(sample, view.standing_release(sample) is not None, tuple(lines))


def paper_file(records: Records, number: str, ending: str) -> bytes:
    """Return a paper's file as it stands now; one that was superseded says so on every page.

    Raises
    ------
    UnknownName
        When there is no such paper, or none that can be made again.
    """
    with records.view() as view:
        document: Document = document_numbered(view, number)
        if document.kind not in SET_AGAIN:
            raise UnknownName("paper", number, ())
        files = files_of(paper_now(view, document)).by_ending()
        if ending not in files:
            raise UnknownName("file", ending, tuple(files))
        return files[ending]
