"""What a page sends, taken exactly once; and what became of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from lodestarch.common.errors import Refused
from lodestarch.common.findings import Finding, Severity
from lodestarch.records.tables import PageEntry
from lodestarch.records.unit import Unit

__all__ = ["Entered", "IdTaken", "Sent", "done", "not_taken", "taken_before"]

_LATEST: Final = timedelta(seconds=90)
_OLDEST: Final = timedelta(hours=36)
"""A page's own time is believed from 36 h back (an entry that waited through a night without a connection)
to 90 s ahead (a clock that is a little fast). Settings of ours."""


@dataclass(frozen=True, slots=True)
class Sent:
    """One entry as it was sent.

    Parameters
    ----------
    entry_id : str
        Made in the page, once for each entry, the same each time that it is sent.
    body_sha256 : str
        Digest of what was sent.
    made_at : datetime or None
        When the hand did it, by the page's clock.
    """

    entry_id: str
    body_sha256: str
    made_at: datetime | None = None

    def moment(self, at: datetime) -> datetime:
        """When it was done: the page's time where that can be, otherwise the present."""
        if self.made_at is None or not at - _OLDEST <= self.made_at <= at + _LATEST:
            return at
        return min(self.made_at.astimezone(at.tzinfo), at)


@dataclass(frozen=True, slots=True)
class Entered:
    """What became of an entry.

    Parameters
    ----------
    sample : str or None
        The sample it is about.
    taken : bool
        It is in the records; ``False``: the findings say why not, and nothing was written.
    again : bool
        It had been taken before, and was not taken a second time.
    findings : tuple of Finding
    """

    sample: str | None
    taken: bool
    again: bool = False
    findings: tuple[Finding, ...] = ()


class IdTaken(Refused):
    """Another content came under an id that was taken already: a fault of the sender's."""

    def __init__(self, entry_id: str) -> None:
        super().__init__(f"Entry {entry_id} was taken with another content. Enter it anew.")


def taken_before(unit: Unit, sent: Sent) -> Entered | None:
    """Return what became of an entry that was taken before; ``None`` where it is new.

    Raises
    ------
    IdTaken
    """
    known = unit.get(PageEntry, sent.entry_id)
    if known is None:
        return None
    if known.body_sha256 != sent.body_sha256:
        raise IdTaken(sent.entry_id)
    return Entered(known.subject.partition(":")[2] or None, taken=True, again=True)


def done(
    unit: Unit, sent: Sent, what: str, sample: str, at: datetime, findings: Sequence[Finding] = ()
) -> Entered:
    """Note that an entry is taken, in the unit that takes it."""
    unit.add(
        PageEntry(
            key=sent.entry_id,
            what=what,
            subject=f"samples:{sample}",
            body_sha256=sent.body_sha256,
            taken_at=at.isoformat(),
        )
    )
    return Entered(sample, taken=True, findings=tuple(findings))


def not_taken(sample: str | None, findings: Sequence[Finding]) -> Entered:
    """Say that an entry is not taken, and why; at least one finding stops it."""
    assert any(f.severity is Severity.STOP for f in findings)  # noqa: S101 - the caller looked
    return Entered(sample, taken=False, findings=tuple(findings))
