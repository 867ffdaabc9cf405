"""Samples that are released and have no certificate yet, and the log's heads to be kept elsewhere."""

from __future__ import annotations

from lodestarch.records.engine import Records
from lodestarch.records.tables import Release
from lodestarch.report.known_heads import heads_file
from lodestarch.work.issuing.certificate import CERTIFICATE, standing_paper

__all__ = ["heads_to_keep", "without_certificate"]


def without_certificate(records: Records) -> tuple[str, ...]:
    """Samples with a standing release that no certificate states yet, in order of release."""
    with records.view() as view:
        standing = sorted(view.all(Release, status="released"), key=lambda r: (r.released_at, r.key))
        return tuple(r.sample for r in standing if standing_paper(view, CERTIFICATE, r.sample) is None)


def heads_to_keep(records: Records) -> bytes:
    """The log's head and its roots as a small file that is kept elsewhere."""
    with records.view() as view:
        return heads_file(view.site, view.head(), view.roots())
