"""The invented lab's papers, issued once for all tests here."""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from lodestarch.demo.handing_over import hand_over
from lodestarch.records.engine import Records, open_records

AT = datetime(2031, 8, 22, 9, 30, tzinfo=UTC)


@dataclass(frozen=True)
class House:
    records: Records
    out: Path
    at: datetime


def _made(out: Path, at: datetime) -> Path:
    with open_records(out / "h.db", clock=lambda: at, site="demo") as records:
        hand_over(records, out, at=at)
    return out


@pytest.fixture(scope="session")
def kept_away(tmp_path_factory):
    """Records and papers as they were handed over, never opened again."""
    return _made(tmp_path_factory.mktemp("handed"), AT)


def _copied(kept_away: Path, out: Path):
    shutil.copytree(kept_away, out, dirs_exist_ok=True)
    return open_records(out / "h.db", clock=lambda: AT, create=False)


@pytest.fixture(scope="session")
def house(kept_away, tmp_path_factory):
    out = tmp_path_factory.mktemp("house")
    with _copied(kept_away, out) as records:
        yield House(records, out, AT)


@pytest.fixture
def own(kept_away, tmp_path):
    """A lab of its own, for tests that change something."""
    with _copied(kept_away, tmp_path) as records:
        yield House(records, tmp_path, AT)


@pytest.fixture
def another_history(tmp_path):
    """Papers of the same name out of another log."""
    return _made(tmp_path, AT + timedelta(hours=1))
