"""``shift`` over the invented morning: what it says, what it prints as JSON, and what it takes."""

from __future__ import annotations

import json
import shutil
from datetime import UTC, datetime
from pathlib import Path

import pytest
from typer.testing import CliRunner

from docs.test_pages import documented, keys_of
from lodestarch.cli.app import app
from lodestarch.demo.control import keep_control
from lodestarch.demo.morning import run_morning
from lodestarch.records.engine import open_records

AT = datetime(2026, 8, 12, 6, 0, tzinfo=UTC)
ROOT = Path(__file__).parents[2]
runner = CliRunner()


@pytest.fixture(scope="module")
def morning(tmp_path_factory):
    file = tmp_path_factory.mktemp("morning") / "demo.db"
    with open_records(file, clock=lambda: AT, site="demo") as kept:
        run_morning(kept, person="demonstration", at=AT)
        keep_control(kept, person="demonstration", at=AT)
    return file


@pytest.fixture
def records(morning, tmp_path):
    return Path(shutil.copy(morning, tmp_path / "demo.db"))


def shift(records, *words):
    return runner.invoke(app, ["shift", *words, "--records", str(records)])


def test_the_failed_check_of_the_invented_morning_stops_its_bath(records):
    done = shift(records, "show")
    assert done.exit_code == 0, done.output
    assert done.stdout.startswith("Stop bath A: check these three, in this order.")
    assert "7 results are held; 1 of them had gone out." in done.stdout
    assert all(len(line.rstrip()) <= 100 for line in done.stdout.splitlines())
    assert shift(records, "show", "--strict").exit_code == 1


def test_every_key_of_its_json_is_on_the_page(records):
    body = json.loads(shift(records, "show", "--json").stdout)
    met = keys_of({k: v for k, v in body.items() if k != "findings"})
    page = documented("shift show")
    assert met - page - {"causes", "checks_due"} == set()
    unmet = {k for k in page - met if not k.startswith(("causes[]", "checks_due[]"))}
    assert unmet == set()
    assert (body["verdict"], body["hold"]["failed"]) == ("stop", ["CM-220-6"])


def test_a_cause_lifts_the_hold_and_a_check_is_due(records):
    refused = shift(records, "cause", "CM-220-6", "", "--person", "demonstration")
    assert refused.exit_code == 1
    assert "Without a cause the hold stays" in " ".join(refused.stdout.split())
    done = shift(records, "cause", "CM-220-6", "bath A was off the boil", "--person", "demonstration")
    assert done.exit_code == 0, done.output
    body = json.loads(shift(records, "show", "--json").stdout)
    assert (body["verdict"], body["hold"]["held"]) == ("check-first", [])
    assert body["causes"][0]["cause"] == "bath A was off the boil"
    page = documented("shift show")
    assert keys_of({k: body[k] for k in ("causes", "checks_due")}) <= page


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("tick", "lunch"), "Take one of these"),
        (("tick", "station-pressure"), "the value is missing"),
        (("upkeep", "tubes", "--at", "soon"), "not a time that can be read"),
        (("check", "CX-1", "220", "221"), "not a registered check material"),
        (("cause", "none", "off the boil"), "not a check sample that holds anything"),
    ],
)
def test_wrong_words_are_told_and_nothing_is_taken(records, words, said):
    done = shift(records, *words, "--person", "demonstration")
    assert done.exit_code == 1
    assert said in " ".join(done.stdout.split())
