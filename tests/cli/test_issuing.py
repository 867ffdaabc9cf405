"""The commands that hand over and check papers, as somebody would type them."""

from __future__ import annotations

import json
import re
import shutil
from datetime import UTC, datetime
from pathlib import Path

import pytest
from typer.testing import CliRunner

from lodestarch.cli.app import app
from lodestarch.common.errors import LodestarchError
from lodestarch.demo.handing_over import CHEMIST, hand_over
from lodestarch.records.engine import open_records

ROOT = Path(__file__).resolve().parents[2]
AT = datetime(2024, 8, 22, 9, 30, tzinfo=UTC)
runner = CliRunner()
BY = ("--person", CHEMIST)


@pytest.fixture(scope="module")
def handed(tmp_path_factory):
    out = tmp_path_factory.mktemp("handed")
    with open_records(out / "lab.db", clock=lambda: AT, site="demo") as records:
        hand_over(records, out, at=AT)
    return out


@pytest.fixture
def folder(handed, tmp_path, monkeypatch):
    shutil.copytree(handed, tmp_path, dirs_exist_ok=True)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def typed(folder, *words, code=0):
    done = runner.invoke(app, [*words, "--records", str(folder / "lab.db")])
    assert done.exit_code == code, done.output
    return done.output


def as_json(folder, *words, code=0):
    return json.loads(typed(folder, *words, "--json", code=code))


def documented(section: str) -> set[str]:
    body = re.split(r"^## ", (ROOT / "docs/json.md").read_text("utf-8"), flags=re.MULTILINE)
    part = next(p for p in body if p.splitlines()[0].strip() == section)
    return set(re.findall(r"^\| `([^`]+)` \|", part, flags=re.MULTILINE))


def keys_of(value, prefix=""):
    if isinstance(value, dict):
        deeper = (keys_of(inner, f"{prefix}.{k}" if prefix else k) for k, inner in value.items())
        return set().union(*deeper) or {prefix}
    if isinstance(value, list):
        rows = [v for v in value if isinstance(v, dict)]
        return set().union(*(keys_of(v, f"{prefix}[]") for v in rows)) if rows else {prefix}
    return {prefix}


def test_a_certificate_from_ticket_to_check(folder):
    out = folder / "papers"
    words = (
        "certificate",
        "8722",
        "--reason",
        "condition entered late",
        "--person",
        CHEMIST,
        "--out",
        str(out),
    )
    body = as_json(folder, *words)
    (paper,) = body["papers"]
    assert paper["superseded"] == "demo-d3"
    assert len(paper["files"]) == 6
    assert keys_of({k: v for k, v in body.items() if k != "findings"}) == documented("certificate, letter")
    for file in paper["files"]:
        assert "Everything holds, against the records." in typed(folder, "verify-report", file)


def test_a_batch_takes_what_can_be_issued_and_says_why_not_of_the_rest(folder):
    body = as_json(folder, "certificate", "8721", "9999", *BY, "--reason", "again", "--formats", "pdf")
    assert (body["asked_count"], body["issued_count"]) == (2, 1)
    assert [f["code"] for f in body["findings"]] == ["ticket-unknown"]
    assert all(f["wrong"] and f["do"] for f in body["findings"])


def test_nothing_issued_ends_with_one(folder):
    assert "stands for this sample" in typed(folder, "certificate", "8721", *BY, code=1)


def test_released_means_all_without_a_certificate(folder):
    assert "Nothing to issue" in typed(folder, "certificate", "--released", *BY)


def test_letter_and_bundle(folder):
    body = as_json(folder, "letter", "8723", "8724", "--at-least", "300", *BY, "--out", str(folder))
    assert body["issued_count"] == 2
    made = as_json(folder, "bundle", "8723", "--purpose", "claim", *BY, "--out", str(folder))
    assert set(made) - {"findings"} == documented("bundle")
    checked = as_json(folder, "verify-report", made["file"])
    assert checked["holds"] is True
    assert keys_of({k: v for k, v in checked.items() if k != "findings"}) == documented("verify-report")


def test_heads_kept_elsewhere_are_enough(folder):
    typed(folder, "certificate", "--write-heads", str(folder / "kept.json"), *BY)
    done = runner.invoke(app, ["verify-report", "letter-demo-d6.pdf", "--heads", "kept.json"])
    assert done.exit_code == 0, done.output
    assert "against the heads kept elsewhere" in done.output
    alone = runner.invoke(app, ["verify-report", "letter-demo-d6.pdf"])
    assert alone.exit_code == 1
    assert "nothing to hold this file against" in alone.output


def test_a_changed_file_ends_with_one_and_says_what(folder):
    path = folder / "certificate-demo-d2.pdf"
    bad = bytearray(path.read_bytes())
    bad[len(bad) // 3] ^= 4
    path.write_bytes(bad)
    said = typed(folder, "verify-report", str(path), code=1)
    assert "DOES NOT" in said
    assert as_json(folder, "verify-report", str(path), code=1)["holds"] is False


@pytest.mark.parametrize(
    "words",
    [
        ["certificate", "8721", "--formats", "docx"],
        ["certificate", "8721", "--at-least", "many"],
        ["verify-report"],
        ["verify-report", "lab.db", "--heads", "lab.db"],
        ["bundle"],
        ["letter"],
    ],
)
def test_wrong_usage_ends_with_two(folder, words):
    assert runner.invoke(app, words).exit_code == 2


def test_the_lab_is_named_once_and_kept(tmp_path):
    lab = tmp_path / "lab.toml"
    given = runner.invoke(app, ["template", "lab"]).output
    lab.write_text(given.replace('name = ""', 'name = "Gannet Bench"').replace('["", ""]', '["Wharf 3"]'))
    typed_records = ["--records", str(tmp_path / "r.db")]
    assert runner.invoke(app, ["records", "init", *typed_records]).exit_code == 0
    assert runner.invoke(app, ["certificate", "--lab", str(lab), *typed_records]).exit_code == 0
    lab.write_text('name = ""')
    odd = runner.invoke(app, ["certificate", "--lab", str(lab), *typed_records])
    assert odd.exit_code == 1
    assert "address" in odd.output


def test_a_missing_file_is_a_refusal_not_a_fault(folder):
    done = runner.invoke(app, ["verify-report", "none.pdf"])
    assert isinstance(done.exception, LodestarchError)
    assert "cannot be read" in str(done.exception)
