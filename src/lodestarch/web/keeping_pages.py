"""Set-up, keeping: a verified backup to take away, and the log as it stands."""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path
from typing import Any, Final

from starlette.background import BackgroundTask
from starlette.requests import Request
from starlette.responses import FileResponse, Response
from starlette.routing import BaseRoute, Route

from lodestarch.web.form import Posted
from lodestarch.web.posted_page import PostedPage
from lodestarch.words.catalogues import terms
from lodestarch.words.times import when
from lodestarch.work.keeping.backup_now import backup_now
from lodestarch.work.keeping.log_read import may_read_log, read_log

__all__ = ["KeepingPages"]

_PER_PAGE: Final = 50


class KeepingPages(PostedPage):
    """Backup and log over open records."""

    template, path = "setup_keeping.html.j2", "/setup/keeping"

    def routes(self) -> list[BaseRoute]:
        """Addresses and what answers them."""
        return [
            Route(self.path, self.ask, name="keeping"),
            Route(f"{self.path}/backup", self.taking(self._backup), methods=["POST"]),
        ]

    def shown(self, request: Request) -> dict[str, Any]:
        """The end of the log, for who may read it, and what came before on further pages."""
        who, known = self._people.who(request), terms()
        asked = request.query_params.get("before", "")
        before = int(asked) if asked.isascii() and asked.isdigit() and len(asked) < 16 else None
        if who is None or not may_read_log(who.roles):
            return {"lines": (), "may": False, "more": None}
        entries = read_log(self._records, before=before, most=_PER_PAGE)
        lines = [
            (one, when(one.at.astimezone()), known.get(f"log.{one.kind.replace('.', '-')}", one.kind))
            for one in entries
        ]
        more = entries[-1].seq if entries and entries[-1].seq > 1 else None
        return {"lines": lines, "may": True, "more": more}

    def _backup(self, request: Request, posted: Posted, person: str) -> Response:
        del request, posted
        folder = Path(tempfile.mkdtemp(prefix="lodestarch-backup-"))
        try:
            made = backup_now(self._records, folder, person=person, at=self._clock())
        except BaseException:
            shutil.rmtree(folder, ignore_errors=True)
            raise
        return FileResponse(
            made.path,
            filename=made.path.name,
            media_type="application/octet-stream",
            headers={"X-Content-SHA256": made.sha256},
            background=BackgroundTask(shutil.rmtree, folder, ignore_errors=True),
        )
