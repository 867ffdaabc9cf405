"""The invented offers, entered into the demonstration's records."""

from __future__ import annotations

from datetime import datetime

from lodestarch import demo
from lodestarch.records.engine import Records
from lodestarch.work.office.terms_enter import TermsEntered, TermsFile, enter_terms_file

__all__ = ["keep_terms"]


def keep_terms(records: Records, *, person: str, at: datetime) -> TermsEntered:
    """Enter the invented terms as the records' first version."""
    return enter_terms_file(records, TermsFile(demo.TERMS_NAME, demo.terms()), person=person, at=at)
