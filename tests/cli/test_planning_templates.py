"""Templates of receiving and load-out: they run as they stand, and an empty sheet beside them says so."""

from __future__ import annotations

import json

import pytest
from typer.testing import CliRunner

from lodestarch.cli.app import app

PAIRS = (("receive", "receive-loads.csv", "--loads"), ("loadout", "loadout-sublots.csv", "--sublots"))


def written(folder, kind):
    path = folder / (kind if "." in kind else f"{kind}.toml")
    assert CliRunner().invoke(app, ["template", kind, "--out", str(path)]).exit_code == 0
    return path


@pytest.mark.parametrize(("command", "sheet", "option"), PAIRS)
def test_the_template_answers_as_it_stands(command, sheet, option, tmp_path):
    answer = CliRunner().invoke(app, [command, str(written(tmp_path, command)), "--json"])
    assert answer.exit_code == 0, answer.output
    body = json.loads(answer.output)
    assert "filled in" in body["title"]
    assert [f for f in body["findings"] if f["severity"] != "note"] == []


@pytest.mark.parametrize(("command", "sheet", "option"), PAIRS)
def test_a_blank_sheet_beside_it_is_told_to_have_no_rows(command, sheet, option, tmp_path):
    arguments = [command, str(written(tmp_path, command)), option, str(written(tmp_path, sheet)), "--json"]
    body = json.loads(CliRunner().invoke(app, arguments).output)
    assert any("row" in f["code"] or "empty" in f["code"] for f in body["findings"]), body["findings"]
