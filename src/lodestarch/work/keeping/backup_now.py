"""A backup taken while the workbench runs: proved before it counts, then handed over."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from lodestarch.records.backup import backup
from lodestarch.records.backup_files import Backup
from lodestarch.records.engine import Records
from lodestarch.work.people.permissions import require_allowed

__all__ = ["backup_now"]


def backup_now(records: Records, folder: Path, *, person: str, at: datetime) -> Backup:
    """Take a backup of open records into a folder and prove it.

    Parameters
    ----------
    records : Records
    folder : Path
        Where it is made.
    person : str
        Key of who asks.
    at : datetime

    Raises
    ------
    NotAllowed
    RestoreRefused
        When the copy does not hold: the records themselves are damaged.
    """
    with records.view() as view:
        require_allowed("records.keep", view.roles_of(person))
    return backup(records.location, folder, clock=lambda: at)
