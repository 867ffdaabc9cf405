from __future__ import annotations

import shutil

import pytest

from lodestarch.records.engine import open_records
from records import postgres
from records.harvest import START, Clock


@pytest.fixture(scope="session")
def blank_file(tmp_path_factory):
    """Records just made, to be copied: making them anew for each test takes most of its time."""
    path = tmp_path_factory.mktemp("blank") / "lab.db"
    open_records(path, clock=Clock()).close()
    return path


@pytest.fixture(scope="session")
def server():
    with postgres.server(durable=False) as running:
        yield running


@pytest.fixture(scope="session")
def blank_database(server):
    address = server.fresh()
    open_records(address, clock=Clock()).close()
    return address.rsplit("/", 1)[1]


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def file(tmp_path, blank_file):
    return shutil.copy(blank_file, tmp_path / "lab.db")


@pytest.fixture(params=["sqlite", "postgresql"])
def address(request):
    """One contract, two places to keep: every test of the contract runs on both."""
    if request.param == "sqlite":
        yield request.getfixturevalue("file")
        return
    server = request.getfixturevalue("server")
    made = server.fresh(request.getfixturevalue("blank_database"))
    yield made
    server.drop(made)


@pytest.fixture
def records(address, clock):
    with open_records(address, clock=clock) as opened:
        yield opened


@pytest.fixture
def store(records):
    def _store(parts, at=START, **how):
        with records.unit("Ann Example", at) as unit:
            return unit.store_day(parts, **how)

    return _store
