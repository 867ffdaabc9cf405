from __future__ import annotations

import itertools

import pytest

from lodestarch.records.engine import open_records
from lodestarch.work.bench.entered import Sent
from records.harvest import Clock

PERSON = "Ann Example"


@pytest.fixture
def lab(tmp_path):
    """Records of a lab with one person, and entries that each have an id of their own."""
    with open_records(tmp_path / "lab.db", clock=Clock()) as records:
        yield Lab(records)


class Lab:
    def __init__(self, records):
        self.records, self.clock, self._ids = records, Clock(), itertools.count(1)

    def sent(self, entry_id=None, body="0", made_at=None):
        return Sent(entry_id or f"id-{next(self._ids)}", body.rjust(64, "0"), made_at)

    def at(self, minutes=1):
        return self.clock.move(minutes=minutes)

    def do(self, use_case, *parts, sent=None, **more):
        return use_case(
            self.records, sent or self.sent(), *parts, person=more.pop("person", PERSON), at=self.at(), **more
        )
