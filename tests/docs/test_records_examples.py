"""The examples of docs/records.md run as they stand, in their order."""

from __future__ import annotations

import re
from pathlib import Path

from typer.testing import CliRunner

from lodestarch.cli.app import app
from lodestarch.demo import bench_sheet

PAGE = (Path(__file__).resolve().parents[2] / "docs/records.md").read_text("utf-8")


def test_every_example_of_the_page_runs(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "bench.csv").write_bytes(bench_sheet())
    commands = PAGE.split("## Commands", 1)[1]
    lines = re.search(r"```sh\n(.*?)```", commands, flags=re.DOTALL)[1].splitlines()
    verbs = {line.split()[2] for line in lines if line.startswith("lodestarch records")}
    assert verbs == {"init", "verify", "backup", "restore", "export", "import", "upgrade"}
    for line in lines:
        made = sorted(Path("backups").glob("*.db"))
        words = [w.replace("BACKUP", made[-1].stem) if made else w for w in line.split()[1:]]
        done = CliRunner().invoke(app, words)
        assert done.exit_code == 0, f"{line}: {done.output} {done.exception}"
    assert len(list(Path("backups").glob("*.db"))) == 1
    assert {"again.db", "centre.db", "everything.zip", "results.csv", "results.parquet"} <= {
        p.name for p in Path().iterdir()
    }
