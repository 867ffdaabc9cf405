"""`records` as typed: make, prove, back up, restore, hand over, take in, bring up to date."""

from __future__ import annotations

import json
import re
import sqlite3
from pathlib import Path

import polars as pl
import pytest
from typer.testing import CliRunner

from lodestarch.cli.app import app
from lodestarch.demo import bench_sheet

runner = CliRunner()
PAGE = (Path(__file__).resolve().parents[2] / "docs/json.md").read_text("utf-8")


def ask(*words: str, code: int = 0) -> dict:
    done = runner.invoke(app, ["records", *words, "--json"])
    assert done.exit_code == code, done.output
    body = json.loads(done.stdout)
    assert documented(words[0]) == met({k: v for k, v in body.items() if k != "findings"})
    return body


def documented(command: str) -> set[str]:
    part = next(
        p for p in re.split(r"^## ", PAGE, flags=re.MULTILINE) if p.startswith(f"records {command}\n")
    )
    return set(re.findall(r"^\| `([^`]+)` \|", part, flags=re.MULTILINE))


def met(body: dict) -> set[str]:
    keys = set()
    for key, value in body.items():
        rows = value if isinstance(value, list) else []
        keys |= {f"{key}[].{inner}" for row in rows for inner in row} if rows else {key}
    return keys


@pytest.fixture
def here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "bench.csv").write_bytes(bench_sheet())
    assert runner.invoke(app, ["day", "bench.csv", "--profile", "meal-14"]).exit_code == 0
    return tmp_path


def test_new_records_are_made_once(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert ask("init", "--site", "mill")["site"] == "mill"
    again = runner.invoke(app, ["records", "init"])
    assert isinstance(again.exception, Exception)
    assert "already" in str(again.exception)


def test_verify_holds_and_names_what_was_changed_behind_its_back(here):
    assert ask("verify")["holds"] is True
    with sqlite3.connect("lodestarch.db") as db:
        for (name,) in db.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            db.execute(f"DROP TRIGGER {name}")
        db.execute("UPDATE readings SET seconds = seconds + 1 WHERE row = 6")
    db.close()
    body = ask("verify", code=1)
    assert body["holds"] is False
    assert any("readings" in json.dumps(f) for f in body["findings"])


def test_a_backup_is_proved_restored_and_its_heads_known(here):
    done = ask("backup", "--keep", "2")
    assert Path(done["path"]).stat().st_size == done["size_bytes"]
    assert ask("restore", done["path"], "--records", "new.db")["holds"] is True
    manifest = str(Path(done["path"]).with_suffix(".json"))
    assert ask("verify", "--records", "new.db", "--heads", manifest)["holds"] is True
    for _ in range(2):
        last = ask("backup", "--keep", "2")
    assert last["kept"] == 2


def test_a_damaged_backup_is_refused_and_nothing_is_left(here):
    path = Path(ask("backup")["path"])
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 0xFF
    path.write_bytes(bytes(data))
    done = runner.invoke(app, ["records", "restore", str(path), "--records", "new.db"])
    assert done.exit_code == 1
    assert not Path("new.db").exists()


def test_everything_goes_to_another_site_exactly_once(here):
    assert ask("export", "all.zip")["what"] == "package"
    ask("init", "--records", "centre.db", "--site", "centre")
    (site,) = ask("import", "all.zip", "--records", "centre.db")["sites"]
    assert site["taken"] == 4
    (again,) = ask("import", "all.zip", "--records", "centre.db", "--site", "centre")["sites"]
    assert (again["taken"], again["known"]) == (0, 4)
    assert ask("verify", "--records", "centre.db")["holds"] is True


def test_results_go_out_as_csv_and_parquet(here):
    assert ask_rows("r.csv") == ask_rows("r.parquet") == 66


def ask_rows(name: str) -> int:
    done = runner.invoke(app, ["records", "export", name, "--json"])
    assert done.exit_code == 0, done.output
    assert json.loads(done.stdout)["what"] == "results"
    frame = pl.read_csv(name) if name.endswith(".csv") else pl.read_parquet(name)
    assert frame["sample"].n_unique() == frame.height
    return frame.height


def test_records_of_this_version_need_no_upgrade(here):
    body = ask("upgrade")
    assert body["before"] == body["after"]
    assert body["copy"] is None


def test_text_output_says_what_was_done(here):
    for words, said in (
        (["verify"], "Every entry follows"),
        (["backup"], "proved"),
        (["export", "x.zip"], "bytes"),
        (["import", "x.zip"], "here already"),
        (["upgrade"], "up to date"),
    ):
        done = runner.invoke(app, ["records", *words])
        assert done.exit_code == 0, done.output
        assert said in done.stdout
