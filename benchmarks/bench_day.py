"""A sheet of 100,000 rows read, judged and kept, beside the least that could be done with it.

Two floors, both in the same run, one transaction, same journal and synchronous settings:

- *as read*: the file read with polars and its 16 columns inserted with bare sqlite3, no index;
- *as kept*: the file read with polars and the very rows that the product keeps (readings judged, results,
  findings, with their keys and indexes) inserted with bare sqlite3.

Prints one JSON object; ``--quick`` takes few rows once.
"""

from __future__ import annotations

import json
import resource
import sqlite3
import subprocess
import sys
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import polars as pl

QUICK = "--quick" in sys.argv
ROWS = 4_000 if QUICK else 100_000
REPEATS = 1 if QUICK else 3


def make_sheet(path: Path, rows: int) -> None:
    """Write a bench sheet with every column filled."""
    rng = np.random.default_rng(20260811)
    level = np.repeat(rng.normal(300, 60, rows // 2).clip(70, 500), 2)
    seconds = np.round(level * (1 + 0.02 * rng.standard_normal(rows)))
    with path.open("w", encoding="utf-8") as out:
        out.write(
            "ticket,sample,profile,run,bath,position,tube_id,stirrer_id,seconds,moisture_pct,mass_g,"
            "pressure_hpa,corrected_by_instrument,analyst,run_at,set_aside_cause\n"
        )
        for i in range(rows):
            at = f"2026-08-{1 + i // 4000:02d}T{8 + (i // 400) % 10:02d}:{(i // 4) % 60:02d}"
            out.write(
                f"T{i // 2},S{i // 2},meal-14,{i // 4},A,{i % 4 + 1},t{i % 40},s{i % 8},{seconds[i]:.0f},"
                f"12.0,6.80,950.0,no,AB,{at},\n"
            )


def floor(sheet: Path, database: Path) -> dict[str, float]:
    """Read with polars, insert with bare sqlite3."""
    start = time.perf_counter()
    frame = pl.read_csv(sheet)
    read = time.perf_counter()
    db = sqlite3.connect(database, isolation_level=None)
    db.execute("PRAGMA journal_mode=WAL")
    db.execute("PRAGMA synchronous=FULL")
    db.execute(
        "CREATE TABLE rows (id INTEGER PRIMARY KEY, " + ", ".join(f'"{c}"' for c in frame.columns) + ")"
    )
    names = ", ".join(f'"{c}"' for c in frame.columns)
    marks = ", ".join("?" for _ in frame.columns)
    db.execute("BEGIN IMMEDIATE")
    db.executemany(f"INSERT INTO rows ({names}) VALUES ({marks})", frame.rows())  # noqa: S608
    db.execute("COMMIT")
    db.close()
    done = time.perf_counter()
    return {"read_s": read - start, "insert_s": done - read, "total_s": done - start}


def floor_as_kept(sheet: Path, database: Path) -> dict[str, float]:
    """Read with polars, insert the rows that the product kept (in ``kept.db`` beside) with bare sqlite3."""
    source = sqlite3.connect(database.with_name("kept.db"))
    tables = ("readings", "results", "day_findings", "sheet_samples")
    rows = {t: source.execute(f"SELECT * FROM {t}").fetchall() for t in tables}  # noqa: S608
    marks = ", ".join("?" for _ in tables)
    ddl = source.execute(
        f"SELECT sql FROM sqlite_master WHERE tbl_name IN ({marks}) AND type IN ('table', 'index') "  # noqa: S608
        "AND sql IS NOT NULL ORDER BY type DESC",
        tables,
    ).fetchall()
    source.close()
    start = time.perf_counter()
    pl.read_csv(sheet)
    read = time.perf_counter()
    db = sqlite3.connect(database, isolation_level=None)
    db.execute("PRAGMA journal_mode=WAL")
    db.execute("PRAGMA synchronous=FULL")
    db.execute("PRAGMA cache_size=-65536")
    for (statement,) in ddl:
        db.execute(statement)
    db.execute("BEGIN IMMEDIATE")
    for table, content in rows.items():
        if content:
            places = ", ".join("?" for _ in content[0])
            db.executemany(f"INSERT INTO {table} VALUES ({places})", content)  # noqa: S608
    db.execute("COMMIT")
    db.close()
    done = time.perf_counter()
    return {"read_s": read - start, "insert_s": done - read, "total_s": done - start}


def ours(sheet: Path, database: Path) -> dict[str, float]:
    """The same through the product: read, judge, look for what a bench wants to know, keep with the log."""
    from lodestarch.records.engine import open_records
    from lodestarch.work.bench.day import DayFile, DayOrder, run_day

    at = datetime.now(UTC)
    with open_records(database, clock=lambda: at) as records:
        start = time.perf_counter()
        outcome = run_day(
            DayOrder(DayFile(sheet.name, sheet.read_bytes())), records=records, person="bench", at=at
        )
        done = time.perf_counter()
        again = run_day(
            DayOrder(DayFile(sheet.name, sheet.read_bytes())), records=records, person="bench", at=at
        )
        end = time.perf_counter()
    assert outcome.sheet.taken == ROWS
    assert again.sheet.already_known == ROWS
    return {"total_s": done - start, "again_s": end - done}


def main() -> None:
    """Run one side in a fresh process (for its peak memory), or both and compare."""
    words = [w for w in sys.argv[1:] if w != "--quick"]
    if len(words) == 3:
        run = {"floor": floor, "floor_as_kept": floor_as_kept, "ours": ours}[words[0]]
        body = run(Path(words[1]), Path(words[2]))
        body["peak_mib"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(json.dumps(body))
        return
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        sheet = folder / "sheet.csv"
        make_sheet(sheet, ROWS)
        runs: dict[str, list[dict[str, float]]] = {"floor": [], "ours": [], "floor_as_kept": []}
        for i in range(REPEATS):
            for side, done in runs.items():
                database = folder / f"{side}{i}.db"
                command = [sys.executable, __file__, side, str(sheet), str(database), *sys.argv[1:]]
                out = subprocess.run(command, check=True, capture_output=True, text=True)
                done.append(json.loads(out.stdout))
                if side == "ours":
                    database.replace(folder / "kept.db")
        best = {side: min(r["total_s"] for r in done) for side, done in runs.items()}
        print(
            json.dumps(
                {
                    "what": f"{ROWS} rows read, judged and kept, against polars read + bare sqlite3 insert",
                    "rows": ROWS,
                    **runs,
                    "ratio_to_floor_as_read": best["ours"] / best["floor"],
                    "ratio_to_floor_as_kept": best["ours"] / best["floor_as_kept"],
                    "target_ratio": 4.0,
                    "peak_mib_ratio": runs["ours"][0]["peak_mib"] / runs["floor"][0]["peak_mib"],
                },
                indent=2,
            )
        )


if __name__ == "__main__":
    main()
