"""What the register and the queries of a day show, as values."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from lodestarch.common.findings import Severity
from lodestarch.words.catalogues import term
from lodestarch.words.findings import QueryGroup
from lodestarch.words.register import FILTERS, RegisterLine, filtered, register
from lodestarch.work.bench.outcome import DayOutcome

__all__ = ["PER_PAGE", "Part", "query_title", "register_part"]

PER_PAGE: Final = 200
"""Lines of the register on one page."""


@dataclass(frozen=True, slots=True)
class Part:
    """A part of the register: which filter, which lines, and what lies around it."""

    show: str
    shown: tuple[tuple[str, int], ...]
    """Filters that leave something, with their counts."""
    lines: tuple[RegisterLine, ...]
    start: int
    count: int

    @property
    def stop(self) -> int:
        """One past the last line."""
        return self.start + len(self.lines)

    @property
    def before(self) -> int | None:
        """Where the part before begins."""
        return max(0, self.start - PER_PAGE) if self.start > 0 else None

    @property
    def after(self) -> int | None:
        """Where the part after begins."""
        return self.stop if self.stop < self.count else None


def register_part(day: DayOutcome, show: str, start: int) -> Part:
    """Take one page of a day's register.

    Parameters
    ----------
    day : DayOutcome
    show : str
        One of ``words.register.FILTERS``; anything else shows all.
    start : int
        First line; past the end it is the last page.
    """
    show = show if show in FILTERS else "all"
    counts = [(name, filtered(day, name).height) for name in FILTERS]
    frame = filtered(day, show)
    last = max(0, (frame.height - 1) // PER_PAGE * PER_PAGE)
    first = min(max(start, 0), last)
    return Part(
        show,
        tuple((name, n) for name, n in counts if n or name == show),
        register(day, frame[first : first + PER_PAGE]),
        first,
        frame.height,
    )


def query_title(groups: Sequence[QueryGroup]) -> str:
    """What the queries of a day ask for, as a sentence."""
    counts = {s: sum(len(g.queries) for g in groups if g.severity is s) for s in Severity}
    if counts[Severity.STOP]:
        name = "queries.title-stop-one" if counts[Severity.STOP] == 1 else "queries.title-stop-many"
        return term(name, count=counts[Severity.STOP])
    if counts[Severity.CHECK]:
        return term("queries.title-check", count=counts[Severity.CHECK])
    return term("queries.title-note", count=counts[Severity.NOTE]) if groups else term("queries.none")
