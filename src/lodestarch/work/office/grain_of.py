"""The grain of one ticket: what it was made from and what was made from it, kept, sent, and its files."""

from __future__ import annotations

from dataclasses import dataclass

from lodestarch.common.errors import UnknownName
from lodestarch.records.engine import Records
from lodestarch.records.tables import Sample, SampleParent
from lodestarch.records.unit import View
from lodestarch.work.bench.sample_named import sample_named
from lodestarch.work.office.files_of import AttachedFile, files_of
from lodestarch.work.office.retained import Left, left_of
from lodestarch.work.office.sent_out import SentOut, sent_of

__all__ = ["GrainOf", "Tie", "grain_of"]


@dataclass(frozen=True, slots=True)
class Tie:
    """Another sample that this one came from, or that came from it."""

    sample: str
    how: str
    mass_g: float | None
    reason: str | None


@dataclass(frozen=True, slots=True)
class GrainOf:
    """Everything on the page."""

    sample: Sample
    parents: tuple[Tie, ...]
    children: tuple[Tie, ...]
    left: tuple[Left, ...]
    sent: tuple[SentOut, ...]
    files: tuple[AttachedFile, ...]


def _ties(view: View, column: str, other: str, sample: str) -> tuple[Tie, ...]:
    rows = view.all(SampleParent, **{column: sample})
    return tuple(Tie(getattr(row, other), row.how, row.mass_g, row.reason) for row in rows)


def grain_of(records: Records, code: str) -> GrainOf:
    """Return what became of a ticket's grain.

    Raises
    ------
    UnknownName
        When no sample is received under it.
    """
    with records.view() as view:
        sample = sample_named(view, code)
        if sample is None:
            raise UnknownName("ticket", code, ())
        return GrainOf(
            sample,
            _ties(view, "sample", "parent", sample.key),
            _ties(view, "parent", "sample", sample.key),
            left_of(view, sample),
            sent_of(view, sample.key),
            files_of(view, sample.key),
        )
