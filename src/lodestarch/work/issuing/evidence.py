"""A bundle of evidence for a dispute or a claim: certificates, raw readings, entries of the log, proofs."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Final

import polars as pl

from lodestarch import __version__
from lodestarch.common.canonical import Json, sha256_hex
from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.records.engine import Records
from lodestarch.records.log import utc_text
from lodestarch.records.samples_read import KeptSample
from lodestarch.records.tables import Day, Document, Release
from lodestarch.records.unit import Unit
from lodestarch.report.evidence import EVIDENCE, LIST_NAME, LOG_NAME, archive
from lodestarch.report.issued import files_of
from lodestarch.report.issued_paper import IssuedPaper
from lodestarch.report.plain import to_plain
from lodestarch.sheets.safe_cells import csv_bytes
from lodestarch.words.issued.evidence import readme
from lodestarch.words.issued.names import LabNames
from lodestarch.work.bench.sample_named import LONGEST_CODE, no_such_ticket
from lodestarch.work.issuing.certificate import CERTIFICATE
from lodestarch.work.issuing.gather import sample_code
from lodestarch.work.issuing.lab import lab_of
from lodestarch.work.issuing.papers import number_of, paper_as_issued, paper_now, proof_values
from lodestarch.work.people.permissions import unit_for

__all__ = ["EVIDENCE_FORM", "BundleMade", "make_bundle"]

EVIDENCE_FORM: Final = "lodestarch-evidence/1"
_LONGEST: Final = 200
_READINGS: Final = (
    "run", "bath", "position", "tube_id", "stirrer_id", "seconds", "kind", "moisture_pct", "mass_g",
    "pressure_hpa", "corrected_by_instrument", "analyst", "run_at", "set_aside_cause", "revision", "stands",
    "day_id", "row_text",
)  # fmt: skip
_FIELD_MARK: Final = "\u001f"


@dataclass(frozen=True, slots=True)
class BundleMade:
    """A bundle, or the findings that stop it."""

    code: str
    sample: str | None
    number: str | None
    file_name: str | None
    data: bytes | None
    members: tuple[str, ...]
    findings: tuple[Finding, ...]


def _table(frame: pl.DataFrame, columns: tuple[str, ...]) -> bytes:
    rows = []
    for row in frame.select(columns).iter_rows(named=True):
        cells = [row[c] for c in columns]
        rows.append([c.replace(_FIELD_MARK, " | ") if isinstance(c, str) else c for c in cells])
    return csv_bytes(list(columns), rows)


def _subjects(kept: KeptSample) -> Iterator[str]:
    """What the extract of the log is about: the sample, its releases, its papers."""
    yield f"samples:{kept.sample}"
    for one in kept.issued:
        yield f"releases:{one.release}"
        for document in one.documents:
            yield f"documents:{document.key}"


def _log_extract(unit: Unit, kept: KeptSample) -> bytes:
    numbers: set[int] = set()
    for subject in _subjects(kept):
        numbers.update(int(e["seq"]) for e in unit.history(subject) if isinstance(e, dict))
    entries = []
    for seq in sorted(numbers):
        proof = to_plain(proof_values(unit.proof_of(seq)))
        entries.append(proof)
    return (json.dumps({"site": unit.site, "entries": entries}, indent=1) + "\n").encode("utf-8")


def _papers(unit: Unit, sample: str) -> dict[str, bytes]:
    """Certificates of the sample as they stand now; a copy whose bytes were not handed over yet is noted."""
    members: dict[str, bytes] = {}
    releases = [r.key for r in unit.all(Release, sample=sample)]
    for document in unit.documents_stating(CERTIFICATE, releases):
        paper = paper_now(unit, document)
        files = files_of(paper)
        if unit.document_of_files(sha256_hex(files.pdf)) is None:
            unit.printed(document.key, files.digests(), as_superseded=paper.later is not None)
        stem = f"certificate-{paper.number}" + ("-superseded" if paper.later else "")
        members[f"{stem}.pdf"], members[f"{stem}.json"] = files.pdf, files.json
    return members


def make_bundle(records: Records, code: str, *, purpose: str = "", person: str, at: datetime) -> BundleMade:
    """Make a bundle of evidence about one sample; that it was made is in the log.

    Parameters
    ----------
    records : Records
    code : str
        Ticket or sample.
    purpose : str
        What it is for, in words.
    person : str
    at : datetime
        When, with time zone.

    Returns
    -------
    BundleMade
        Without data where nothing is kept of the sample, the lab has no name yet, or ``purpose`` is too long.

    Raises
    ------
    NotAllowed
    """
    with unit_for(records, person, at, "document.issue") as unit:
        sample, settings = sample_code(unit, code), lab_of(unit)
        where = Where(ticket=code[:LONGEST_CODE])
        found = [] if sample else [no_such_ticket(code)]
        if settings is None:
            found.append(Finding("issue-no-lab", where, Severity.STOP))
        if len(purpose) > _LONGEST:
            values = {"count": len(purpose), "most": _LONGEST}
            found.append(Finding("entry-too-long", Where(field="purpose"), Severity.STOP, values))
        if sample is None or settings is None or found:
            return BundleMade(code, sample, None, None, None, (), tuple(found))
        kept = unit.open_sample(sample)
        members = _papers(unit, sample)
        unit.root()  # every entry so far lies under a root, so that each can be proved
        members |= {
            "readings.csv": _table(kept.readings, _READINGS),
            "results.csv": _table(kept.results, tuple(kept.results.columns)),
            LOG_NAME: _log_extract(unit, kept),
        }
        number = number_of(unit.site, unit.next_key(Document, "d"))
        demonstration = any(_is_demonstration(unit, day) for day in kept.readings["day_id"].unique())
        members["README.txt"] = readme(
            number, settings.lab.name, sample, utc_text(at), purpose, sorted(members), settings.language,
            demonstration=demonstration,
        ).encode("utf-8")  # fmt: skip
        statement = _statement(unit, number, sample, kept, purpose, at, members)
        names = to_plain(LabNames("", unit.names("people").get(unit.person, unit.person), ()))
        releases = tuple(r.release for r in kept.issued)
        document, proof = unit.issue_document(EVIDENCE, statement, releases=releases, names={"lab": names})
        paper: IssuedPaper = paper_as_issued(unit, document, proof)
        listed = paper.json_bytes()
        data = archive({**members, LIST_NAME: listed}, utc_text(at))
        unit.printed(document.key, {"zip": sha256_hex(data), "json": sha256_hex(listed)})
        unit.root()
        return BundleMade(
            code, sample, number, f"evidence-{number}.zip", data, (*sorted(members), LIST_NAME), ()
        )


def _is_demonstration(unit: Unit, day_id: str) -> bool:
    day = unit.get(Day, day_id)
    return day is not None and bool(day.demonstration)


def _statement(
    unit: Unit,
    number: str,
    sample: str,
    kept: KeptSample,
    purpose: str,
    at: datetime,
    members: dict[str, bytes],
) -> dict[str, Json]:
    files: list[Json] = [
        {"name": name, "sha256": sha256_hex(body), "size_bytes": len(body)}
        for name, body in sorted(members.items())
    ]
    papers: list[Json] = [number_of(unit.site, d.key) for one in kept.issued for d in one.documents]
    return {
        "form": EVIDENCE_FORM,
        "number": number,
        "site": unit.site,
        "issued_at": utc_text(at),
        "software": __version__,
        "sample": sample,
        "purpose": purpose,
        "papers": papers,
        "files": files,
    }
