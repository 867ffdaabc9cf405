"""Power cuts: record the work once, cut it at many moments, open what is left and prove it."""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from random import Random

from crash.images import cuts
from crash.load import halves, missing, work
from crash.recorder import Recorder
from lodestarch.common.errors import RecordsUnusable
from lodestarch.records import sqlite
from lodestarch.records.engine import open_records
from records.harvest import Clock

PAGES_A_CHECKPOINT = 60
"""Far fewer than ever in use, so that many cuts fall into a checkpoint."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """Of so many images: how many had lost what was told as kept, and how many did not hold."""

    images: int
    lost: int
    most_lost: int
    broken: int


def record(folder: Path, synchronous: str, rounds: int) -> None:
    """Run in a process of its own: do the work with the shim in and write down what it did."""
    sqlite.SYNCHRONOUS = synchronous
    path = folder / "lab.db"
    open_records(path, clock=Clock()).close()
    before = {path.name: path.read_bytes()}
    recorder = Recorder(folder)
    recorder.start()
    with open_records(path, clock=Clock()) as records:
        with records._writer.connect() as conn:
            conn.exec_driver_sql(f"PRAGMA wal_autocheckpoint={PAGES_A_CHECKPOINT}")
        work(records, recorder.ack, rounds, seed=0)
    (folder / "recorded").write_bytes(
        pickle.dumps((before, [(o.kind, o.name, o.at, o.data) for o in recorder.ops]))
    )


def recorded(synchronous: str, rounds: int):
    """Return the files before the work, and what it did to them."""
    from crash.recorder import Op

    with tempfile.TemporaryDirectory() as name:
        program = (
            "import sys; from pathlib import Path; from crash.power import record; "
            "record(Path(sys.argv[1]), sys.argv[2], int(sys.argv[3]))"
        )
        tests = str(Path(__file__).parents[1])
        environment = {**os.environ, "PYTHONPATH": tests}
        subprocess.run(
            [sys.executable, "-c", program, name, synchronous, str(rounds)], check=True, env=environment
        )
        before, ops = pickle.loads((Path(name) / "recorded").read_bytes())  # noqa: S301 - our own, just written
    return before, [Op(*op) for op in ops]


def judge(files: dict[str, bytes], acked: list[str]) -> tuple[int, str]:
    """Open an image as after the power came back; return how much was lost and what is broken."""
    with tempfile.TemporaryDirectory() as name:
        for file, content in files.items():
            (Path(name) / file).write_bytes(content)
        try:
            with open_records(Path(name) / "lab.db", create=False, clock=Clock()) as records:
                with records._writer.connect() as conn:
                    told = conn.exec_driver_sql("PRAGMA integrity_check(1)").scalar_one()
                if told != "ok":
                    return len(acked), str(told)
                lost, half = missing(records, acked), halves(records)
                report = records.verify()
                wrong = [f.code for f in report.findings if f.severity == "stop"]
                return len(lost), ", ".join([*wrong, *(["half written"] if half else [])])
        except RecordsUnusable as told:
            return len(acked), str(told)


def power_cuts(
    synchronous: str, rounds: int, images: int, seed: int, say: Callable[[str], None] = lambda _: None
) -> Outcome:
    """Cut recorded work at ``images`` random moments and say what was left of it."""
    before, ops = recorded(synchronous, rounds)
    say(f"{synchronous}: {len(ops)} operations recorded, {sum(o.kind == 'sync' for o in ops)} of them syncs")
    lost = most = broken = 0
    for n, (moment, acked, files) in enumerate(cuts(before, ops, images, Random(seed)), 1):
        gone, wrong = judge(files, acked)
        lost, most, broken = lost + (gone > 0), max(most, gone), broken + bool(wrong)
        if gone or wrong:
            say(f"image {n} at operation {moment}: {gone} of {len(acked)} lost; {wrong or 'whole'}")
        elif n % 100 == 0:
            say(f"{n} images")
    return Outcome(images, lost, most, broken)
