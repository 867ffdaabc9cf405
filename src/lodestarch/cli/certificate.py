"""``certificate``: certificates of test out of the records, one or five hundred."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer

from lodestarch.cli.files import bytes_of
from lodestarch.cli.options import DEFAULT_RECORDS, OUT, AsJson, RecordsAddress, decimal
from lodestarch.cli.output import emit_json, finish, say, show_findings
from lodestarch.cli.progress import bar
from lodestarch.common.findings import Finding
from lodestarch.report.issued import PaperFiles
from lodestarch.words.catalogues import term
from lodestarch.work.issuing.agreed import Agreed
from lodestarch.work.issuing.as_json import findings_of, issued_as_dict
from lodestarch.work.issuing.certificate import CertificateAsked, IssuedNow, issue_certificate
from lodestarch.work.issuing.lab import read_lab, set_lab
from lodestarch.work.issuing.standing import heads_to_keep, without_certificate

__all__ = ["Endings", "Issuer", "Language", "OutFolder"]
__all__ += ["certificate", "endings_of", "show_issued", "written_of"]

ENDINGS = ("pdf", "html", "json")

Issuer = Annotated[str, typer.Option("--person", help="Who issues; it stands on the paper and in the log.")]
OutFolder = Annotated[Path, typer.Option("--out", "-o", help="Folder for the papers; made when missing.")]
Endings = Annotated[str, typer.Option("--formats", help="Which files: pdf, html, json, by commas.")]
Language = Annotated[str | None, typer.Option(help="Language of the paper. [default: the lab's]")]


def endings_of(text: str) -> tuple[str, ...]:
    """The kinds of file asked for."""
    asked = tuple(part.strip().lower() for part in text.split(",") if part.strip())
    if not asked or any(one not in ENDINGS for one in asked):
        raise typer.BadParameter(f"{text!r}: one or more of {', '.join(ENDINGS)}", param_hint="--formats")
    return asked


def _write(folder: Path, stem: str, files: PaperFiles, endings: Iterable[str]) -> list[str]:
    """Write the files of a paper; returns their paths."""
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for ending, data in files.by_ending().items():
        if ending in endings:
            path = folder / f"{stem}.{ending}"
            path.write_bytes(data)
            written.append(str(path))
    return written


def _agreed(
    spec: str | None, least: str | None, most: str | None, rule: str, agreed_on: str | None
) -> Agreed | None:
    """The agreed rule; nothing of it typed is none, half of it is for the use case to say."""
    if spec is None and least is None and most is None and agreed_on is None:
        return None
    low, high = (None if text is None else decimal(text) for text in (least, most))
    return Agreed(spec or "", low, high, rule, agreed_on or "")


def certificate(
    tickets: Annotated[list[str] | None, typer.Argument(help="Tickets or samples.")] = None,
    released: Annotated[
        bool, typer.Option("--released", help="Every released sample that has no certificate yet.")
    ] = False,
    lab: Annotated[
        Path | None, typer.Option(help="How the lab names itself (template lab); kept for later papers.")
    ] = None,
    reason: Annotated[str, typer.Option(help="Why a certificate that stands is replaced.")] = "",
    specification: Annotated[
        str | None, typer.Option(help="Specification of the agreed rule, by name.")
    ] = None,
    at_least: Annotated[str | None, typer.Option(help="Agreed limit: at least so many seconds.")] = None,
    at_most: Annotated[str | None, typer.Option(help="Agreed limit: at most so many seconds.")] = None,
    rule: Annotated[str, typer.Option(help="Agreed decision rule: simple or guarded.")] = "simple",
    agreed_on: Annotated[str | None, typer.Option(help="Day of the agreement, as 2024-08-21.")] = None,
    opinion: Annotated[str, typer.Option(help="An opinion, where the customer asked for one.")] = "",
    language: Language = None,
    formats: Endings = "pdf,html,json",
    out: OutFolder = OUT,
    write_heads: Annotated[
        Path | None, typer.Option(help="Write the log's head and roots here, to be kept elsewhere.")
    ] = None,
    person: Issuer = "keeper",
    records: RecordsAddress = DEFAULT_RECORDS,
    as_json: AsJson = False,
) -> None:
    """Issue certificates of test: PDF, HTML and JSON, each with the proof that it is in the log."""
    from lodestarch.records.engine import open_records

    endings, agreed = endings_of(formats), _agreed(specification, at_least, at_most, rule, agreed_on)
    lab_bytes = None if lab is None else bytes_of(lab)
    with open_records(records, create=False, clock=_now) as kept:
        if lab is not None and lab_bytes is not None:
            given, found = read_lab(lab_bytes, lab.name)
            if given is None:
                show_issued([], found, as_json=as_json)
                finish(found, answered=False)
                return
            set_lab(kept, given, person=person, at=_now())
        codes = [*(tickets or ()), *(without_certificate(kept) if released else ())]
        papers: list[tuple[IssuedNow, list[str]]] = []
        with bar(term("issuing.progress"), quiet=as_json or len(codes) < 2) as told:
            for done, code in enumerate(codes, 1):
                asked = CertificateAsked(code, agreed, opinion, reason, language)
                one = issue_certificate(kept, asked, person=person, at=_now())
                papers.append((one, written_of(one, out, "certificate", endings)))
                if told is not None:
                    told(code, done, len(codes))
        if write_heads is not None:
            write_heads.parent.mkdir(parents=True, exist_ok=True)
            write_heads.write_bytes(heads_to_keep(kept))
    found = tuple(findings_of(p for p, _ in papers))
    show_issued(papers, found, as_json=as_json)
    only_lab = (lab is not None or write_heads is not None) and not codes and not released
    finish(found, answered=only_lab or released or any(p.paper is not None for p, _ in papers))


def _now() -> datetime:
    return datetime.now(UTC)


def written_of(one: IssuedNow, out: Path, kind: str, endings: tuple[str, ...]) -> list[str]:
    """Write the files of a paper, and those of the one that it took the place of; returns their paths."""
    if one.paper is None or one.files is None:
        return []
    written = _write(out, f"{kind}-{one.paper.number}", one.files, endings)
    if one.superseded is not None:
        number, files = one.superseded
        written += _write(out, f"{kind}-{number}-superseded", files, endings)
    return written


def show_issued(
    papers: list[tuple[IssuedNow, list[str]]], found: Iterable[Finding], *, as_json: bool
) -> None:
    """Say what was issued, and what stands against the rest."""
    if as_json:
        emit_json(issued_as_dict(papers), found)
        return
    for one, written in papers:
        if one.number is not None:
            say(term("issuing.issued", number=one.number, asked=one.code, files=", ".join(written)))
        if one.superseded is not None:
            say(term("issuing.replaced", number=one.superseded[0], later=one.number))
    if not papers and not found:
        say(term("issuing.nothing"))
    if len(papers) > 1:
        issued = sum(p.number is not None for p, _ in papers)
        say(term("issuing.count", issued=issued, asked=len(papers)))
    show_findings(list(found))
