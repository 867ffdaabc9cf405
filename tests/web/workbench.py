"""A workbench over records of its own, for tests of what is entered."""

from __future__ import annotations

import functools
import itertools
import shutil
import tempfile
from datetime import UTC, datetime, timedelta
from pathlib import Path

from lodestarch.records.engine import open_records
from lodestarch.web.app import create_app
from lodestarch.web.kept import KeptDays
from web.client import TestClient

START = datetime(2026, 8, 12, 6, 0, tzinfo=UTC)
PERSON = "Ann Example"


@functools.cache
def _blank():
    """New records, made once: making the tables takes longer than most tests."""
    path = Path(tempfile.mkdtemp(prefix="lodestarch-tests-")) / "blank.db"
    open_records(path, clock=lambda: START).close()
    return path


class Workbench:
    """Records, an application over them, and a client at it."""

    def __init__(self, path, *, blank=None, **more):
        self.now = START
        shutil.copy(blank or _blank(), path)
        self.records = open_records(path, clock=self.clock)
        days = KeptDays(self.records)
        self.app = create_app(
            days, token=None, allowed_hosts=["lab"], records=self.records, clock=self.clock, **more
        )
        self.client = TestClient(self.app, base_url="http://lab", follow_redirects=False)
        self._ids = itertools.count(1)

    def clock(self):
        self.now += timedelta(seconds=1)
        return self.now

    def sign_in(self, name=PERSON):
        answer = self.client.post("/sign-in", data={"name": name})
        assert answer.status_code == 303, answer.text
        return self

    def enter(self, path, entry_id=None, **body):
        key = entry_id or f"entry-{next(self._ids):04d}"
        return self.client.post(f"/api/v1{path}", json=body, headers={"Idempotency-Key": key})
