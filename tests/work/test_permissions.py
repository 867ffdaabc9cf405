from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from lodestarch.common.errors import UnknownName
from lodestarch.records.engine import open_records
from lodestarch.records.people import ALL_ROLES
from lodestarch.work.people.permissions import MAY, ROLES, NotAllowed, is_allowed, unit_for

NOW = datetime(2026, 7, 14, 6, tzinfo=UTC)
DOCS = Path(__file__).parents[2] / "docs" / "records.md"


def test_the_roles_are_those_that_people_can_have():
    assert ROLES == ALL_ROLES


def test_every_line_names_roles_there_are():
    assert all(line.roles and line.roles <= set(ROLES) for line in MAY.values())


@pytest.mark.parametrize("action", MAY)
@pytest.mark.parametrize("role", ROLES)
def test_the_matrix_is_that_of_the_docs(action, role):
    rows = [
        line.split("|")
        for line in DOCS.read_text(encoding="utf-8").splitlines()
        if line.startswith(f"| `{action}`")
    ]
    (row,) = rows
    column = 3 + ROLES.index(role)
    assert (row[column].strip() == "yes") == is_allowed(action, (role,))


def test_nobody_may_what_is_not_in_the_table():
    with pytest.raises(UnknownName):
        is_allowed("records.burn", ROLES)
    assert not any(is_allowed(action, ()) for action in MAY)
    assert not any(is_allowed(action, ("emperor",)) for action in MAY)


def test_a_unit_is_opened_only_for_who_may_and_leaves_nothing_otherwise(tmp_path):
    with open_records(tmp_path / "lab.db", clock=lambda: NOW) as records:
        with unit_for(records, "Ann Example", NOW, "people.change") as unit:
            unit.add_person("Ben Example", ("analyst",))
        with records.view() as view:
            before = view.head()
        with (
            pytest.raises(NotAllowed, match="chemist"),
            unit_for(records, "Ben Example", NOW, "result.release"),
        ):
            pass
        with records.view() as view:
            assert view.head() == before
        with unit_for(records, "Ben Example", NOW, "sheet.store") as unit:
            assert unit.person == "p2"
