"""Buyers and terms: what stands, a file dropped in, one entry typed, one withdrawn."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import PurePath
from typing import Final
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from lodestarch.common.errors import LodestarchError
from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.records.engine import Records
from lodestarch.sheets.terms_document import entries_of
from lodestarch.web.clock import Clock
from lodestarch.web.form import Posted, read_form
from lodestarch.web.nav import Nav
from lodestarch.web.person import NobodyChosen, People
from lodestarch.web.render import page
from lodestarch.web.setup_places import SETUP_PAGES
from lodestarch.web.terms_form import KINDS, entry_form, raw_of, texts_of
from lodestarch.web.terms_lines import TermsList, terms_list
from lodestarch.words.findings import FindingText, sentence
from lodestarch.work.office.terms_enter import (
    TermsEntered,
    TermsFile,
    enter_entry,
    enter_terms_file,
    withdraw_entry,
)
from lodestarch.work.office.terms_kept import KeptTerms, standing_terms, terms_lines

__all__ = ["TermsPages"]

_LONGEST_NAME: Final = 120
_MOST_FIELDS: Final = 1500
_FILE_ID: Final = "all"
_HERE: Final = "/setup/terms"


@dataclass(frozen=True, slots=True)
class _Standing:
    """What stands, for a page."""

    kept: KeptTerms | None
    shown: TermsList

    @property
    def tables(self) -> Mapping[str, object]:
        """Tables as a terms file has them."""
        return {} if self.kept is None else self.kept.tables


class TermsPages:
    """Terms over open records."""

    def __init__(self, records: Records, people: People, clock: Clock) -> None:
        self._records, self._people, self._clock = records, people, clock

    def routes(self) -> list[BaseRoute]:
        """Addresses and what answers them."""
        entry = _HERE + "/{kind}/{name}"
        return [
            Route(_HERE, self.ask, name="terms"),
            Route(_HERE, self.take, methods=["POST"]),
            Route(entry, self.entry, name="terms_entry"),
            Route(entry, self.keep, methods=["POST"]),
        ]

    def _standing(self) -> _Standing:
        with self._records.view() as view:
            kept = standing_terms(view)
            return _Standing(kept, terms_list(kept, terms_lines(view)))

    def ask(self, request: Request) -> Response:
        """What stands, and where to enter more."""
        return self._page(request, Posted({}, "", b""), ())

    async def take(self, request: Request) -> Response:
        """Take a file, or rows pasted from a spreadsheet."""
        posted = await read_form(request)
        return await run_in_threadpool(self._take, request, posted)

    def _take(self, request: Request, posted: Posted) -> Response:
        name = PurePath(posted.file_name.replace("\\", "/")).name[:_LONGEST_NAME]
        data = posted.file or posted.one("rows").encode("utf-8")
        if not data.strip():
            return self._page(
                request, posted, (Finding("terms-none-given", Where(field="file"), Severity.STOP),)
            )
        file = TermsFile(name or "pasted", data, whole=posted.one("whole") == "yes")
        return self._entered(
            request,
            lambda person: enter_terms_file(self._records, file, person=person, at=self._clock()),
            lambda findings, refused: self._page(request, posted, findings, refused),
        )

    def entry(self, request: Request) -> Response:
        """One entry, or an empty form for a new one."""
        kind, name = self._place(request)
        if kind is None:
            return RedirectResponse(_HERE, status_code=303)
        standing = self._standing()
        texts = _texts(standing.tables, kind, name)
        if texts is None:
            return RedirectResponse(_HERE, status_code=303)
        return self._form(request, kind, name, texts, (), standing=standing)

    async def keep(self, request: Request) -> Response:
        """Keep an entry as typed, withdraw it, or offer one more row of it."""
        posted = await read_form(request, most_fields=_MOST_FIELDS)
        return await run_in_threadpool(self._keep, request, posted)

    def _keep(self, request: Request, posted: Posted) -> Response:
        kind, name = self._place(request)
        if kind is None:
            return RedirectResponse(_HERE, status_code=303)
        texts = {k: v[0] for k, v in posted.fields.items() if v}
        what, reason = posted.one("do"), posted.one("reason")
        raw, kept = raw_of(kind, texts)
        if what == "more":
            return self._form(request, kind, name, kept, (), blank=2)
        if name not in {"", "new", _FILE_ID} and what != "withdraw" and raw.get("id") != name:
            # An entry under another id is another entry: the one that stands is not changed by it.
            name = "new"

        def write(person: str) -> TermsEntered:
            at = self._clock()
            if what == "withdraw":
                return withdraw_entry(self._records, kind, name, person=person, at=at, reason=reason)
            return enter_entry(self._records, kind, raw, person=person, at=at, reason=reason)

        return self._entered(
            request,
            write,
            lambda findings, refused: self._form(request, kind, name, kept, findings, refused=refused),
        )

    def _entered(
        self,
        request: Request,
        write: Callable[[str], TermsEntered],
        again: Callable[[tuple[Finding, ...], str], Response],
    ) -> Response:
        """Write with who is at the bench; show the page again where it is not kept."""
        try:
            done = write(self._people.require(request).person)
        except NobodyChosen:
            return RedirectResponse(f"/sign-in?to={_HERE}", status_code=303)
        except LodestarchError as refused:
            return again((), str(refused))
        if done.version is None:
            return again(done.findings, "")
        return RedirectResponse(f"{_HERE}?kept={quote(done.version, safe='')}", status_code=303)

    def _place(self, request: Request) -> tuple[str | None, str]:
        kind, name = request.path_params["kind"], request.path_params["name"]
        return (kind if kind in KINDS else None), name

    def _form(
        self,
        request: Request,
        kind: str,
        name: str,
        texts: Mapping[str, str],
        findings: tuple[Finding, ...],
        *,
        refused: str = "",
        blank: int = 1,
        standing: _Standing | None = None,
    ) -> Response:
        tables = (standing or self._standing()).tables
        refers = {k: _named(tables, k) for k in ("buyer", "delivery_point")}
        who = self._people.who(request)
        return page(
            request,
            "terms_entry.html.j2",
            status=422 if refused or any(f.severity is Severity.STOP for f in findings) else 200,
            nav=Nav("setup", person=who.name if who else ""),
            setup_pages=SETUP_PAGES,
            here=_HERE,
            kind=kind,
            name=name,
            form=entry_form(kind, texts, findings, refers=refers, blank=blank),
            stands=name not in {"new", _FILE_ID},
            schedules=tuple(f"{i}" for i, _ in _named(tables, "schedule")),
            refused=refused,
        )

    def _page(
        self, request: Request, posted: Posted, findings: tuple[Finding, ...], refused: str = ""
    ) -> Response:
        who = self._people.who(request)
        standing = self._standing()
        return page(
            request,
            "terms.html.j2",
            status=422 if findings or refused else 200,
            nav=Nav("setup", person=who.name if who else ""),
            setup_pages=SETUP_PAGES,
            here=_HERE,
            posted=posted,
            shown=standing.shown,
            kept=request.query_params.get("kept", "")[:20],
            kinds=tuple(k for k in KINDS if k != "file"),
            faults=_told(findings),
            refused=refused,
        )


def _told(findings: tuple[Finding, ...]) -> tuple[FindingText, ...]:
    return tuple(sentence(f) for f in findings if f.severity is not Severity.NOTE)


def _texts(tables: Mapping[str, object], kind: str, name: str) -> dict[str, str] | None:
    """Texts of an entry that stands, of the whole, or of a new one; ``None`` where it does not stand."""
    if kind == "file":
        return texts_of(kind, {k: v for k, v in tables.items() if not isinstance(v, list) and k != "terms"})
    if name == "new":
        return {}
    found = next((e for e in entries_of(tables, kind) if e.get("id") == name), None)
    return None if found is None else texts_of(kind, found)


def _named(tables: Mapping[str, object], kind: str) -> list[tuple[str, str]]:
    return [(str(e.get("id")), str(e.get("name", e.get("id")))) for e in entries_of(tables, kind)]
