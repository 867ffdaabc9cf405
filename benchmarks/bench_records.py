"""What keeping costs: storing beside bare inserts, size, answers as the records grow, and proving them.

    python benchmarks/bench_records.py [--quick]

All ratios are of one run on one machine: ours and the bare library in turn, best of three; answers at 10^4
and at 10^6 readings by the same questions. Times are processor time where a peer is compared, because the
machine may be shared; answers are wall time. Prints one JSON object.
"""

from __future__ import annotations

import json
import sqlite3
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path

import numpy as np
import polars as pl

from lodestarch.method.table import JUDGED, RESULTS, SAMPLES, conform, empty
from lodestarch.records.day_frames import to_text
from lodestarch.records.day_values import DayParts, InputFile
from lodestarch.records.engine import Records, open_records, verify_at
from lodestarch.records.tables import Moisture, Sample

QUICK = "--quick" in sys.argv
SHEET = 10_000 if QUICK else 100_000
SIZES = (1_000, 10_000) if QUICK else (10_000, 100_000, 1_000_000)
ENTRIES = 10_000 if QUICK else 1_000_000
EDITS = 300 if QUICK else 20_000
REPEATS = 3
QUESTIONS = 60
START = datetime(2026, 7, 14, 6, tzinfo=UTC)


def sheet(rows: int, first: int) -> DayParts:
    """A judged sheet of two tubes a sample, every usual column filled."""
    rng = np.random.default_rng(first)
    i = np.arange(rows)
    sample = pl.Series(first + i // 2).cast(pl.String)
    seconds = rng.normal(300, 60, rows).clip(70, 500).round(0)
    readings = pl.DataFrame(
        {
            "row": i + 2,
            "sample": sample,
            "ticket": "T" + sample,
            "profile": "dry-matter-15@1",
            "run": "2026-07-14",
            "bath": "A",
            "position": pl.Series(i % 2 + 1).cast(pl.String),
            "tube_id": "t" + pl.Series(i % 40).cast(pl.String),
            "stirrer_id": "s" + pl.Series(i % 40).cast(pl.String),
            "seconds": seconds,
            "kind": 0,
            "moisture_pct": rng.uniform(10, 16, rows).round(1),
            "mass_g": rng.uniform(6.4, 7.6, rows).round(2),
            "pressure_hpa": 1003.2,
            "corrected_by_instrument": False,
            "analyst": "Ann",
            "run_at": [datetime(2026, 7, 14, 8) + timedelta(seconds=int(k)) for k in i],  # noqa: DTZ001 - local
            "position_stated": True,
            "state": 0,
            "portion_g": rng.uniform(6.4, 7.6, rows).round(2),
        }
    ).with_columns(
        row_text=pl.concat_str("ticket", "sample", "run", "bath", "position", "seconds", separator="\x1f")
    )
    results = readings.group_by("sample", maintain_order=True).agg(
        ticket=pl.col("ticket").first(),
        profile=pl.col("profile").first(),
        mean_s=pl.col("seconds").mean(),
        tubes=pl.len(),
        first_row=pl.col("row").min(),
        moisture_pct=pl.col("moisture_pct").mean(),
    )
    results = results.with_columns(
        status=pl.lit("preliminary"),
        kind=pl.lit(0),
        seconds=pl.col("mean_s").round(0),
        how=pl.lit("mean"),
        u_s=pl.col("mean_s") / 40,
        ln=6000 / (pl.col("mean_s") - 50),
        agreement=pl.lit("agrees"),
        comparable_key=pl.lit("15-dm"),
    )
    return DayParts(
        title=f"sheet {first}",
        read_at=START,
        demonstration=True,
        inputs=(InputFile("bench", f"{first}.csv", f"{first:064}"),),
        profiles=("dry-matter-15@1",),
        readings=conform(readings, JUDGED),
        samples=empty(SAMPLES),
        results=conform(results, RESULTS),
        summary={"counts": {"samples": rows // 2}},
    )


def cpu(do: Callable[[], object]) -> float:
    """Processor seconds that it took."""
    start = time.process_time()
    do()
    return time.process_time() - start


def bare(path: Path, parts: DayParts) -> float:
    """The same rows by the bare library, in one transaction, same journal and durability."""
    frames = [to_text(parts.readings), parts.results]
    rows = [frame.rows() for frame in frames]
    conn = sqlite3.connect(path, isolation_level=None)
    conn.execute("PRAGMA journal_mode=WAL")
    conn.execute("PRAGMA synchronous=FULL")
    for n, frame in enumerate(frames):
        columns = ", ".join(f'"{c}"' for c in frame.columns)
        conn.execute(f"CREATE TABLE t{n} ({columns})")

    def insert() -> None:
        conn.execute("BEGIN")
        for n, frame in enumerate(frames):
            marks = ", ".join("?" * frame.width)
            conn.executemany(f"INSERT INTO t{n} VALUES ({marks})", rows[n])  # noqa: S608 - our own
        conn.execute("COMMIT")

    took = cpu(insert)
    conn.close()
    return took


def store(records: Records, parts: DayParts) -> None:
    with records.unit("Ann Example", START) as unit:
        unit.store_day(parts)


def storing(folder: Path) -> dict[str, object]:
    """Ours beside the bare library, in turn."""
    ours, floor, again = [], [], []
    for n in range(REPEATS):
        parts = sheet(SHEET, 10**6 * (n + 1))
        floor.append(bare(folder / f"bare{n}.db", parts))
        with open_records(folder / f"ours{n}.db", clock=lambda: START) as records:
            ours.append(cpu(partial(store, records, parts)))
            again.append(cpu(partial(store, records, parts)))
    return {
        "rows": SHEET,
        "bare_cpu_s": min(floor),
        "ours_cpu_s": min(ours),
        "same_sheet_again_cpu_s": min(again),
        "ratio": min(ours) / min(floor),
        "target_ratio": 4.0,
    }


def p95_ms(ask: Callable[[int], object], upper: int) -> float:
    """95th percentile of the wall time of a question asked about samples spread over all."""
    rng, took = np.random.default_rng(1), []
    ask(0)
    for k in rng.integers(0, upper, QUESTIONS):
        start = time.perf_counter()
        ask(int(k))
        took.append(1000 * (time.perf_counter() - start))
    return statistics.quantiles(took, n=20)[-1]


def answers(folder: Path) -> dict[str, object]:
    """List, search and open a sample as the records grow."""
    path, kept, by_size = folder / "grown.db", 0, {}
    first = 10**7
    with open_records(path, clock=lambda: START) as records:
        for size in SIZES:
            while kept < size:
                rows = min(SHEET, size - kept)
                store(records, sheet(rows, first + kept // 2))
                kept += rows

            def ask(question: Callable[..., object], *what: object) -> object:
                with records.view() as view:
                    return question(view, *what)

            by_size[str(size)] = {
                "list_p95_ms": p95_ms(lambda _: ask(lambda v: v.latest_results(50)), size // 2),
                "search_p95_ms": p95_ms(lambda k: ask(lambda v: v.search(f"T{first + k}")), size // 2),
                "open_p95_ms": p95_ms(lambda k: ask(lambda v: v.open_sample(str(first + k))), size // 2),
            }
    small, large = by_size[str(SIZES[0])], by_size[str(SIZES[-1])]
    start = time.perf_counter()
    report = verify_at(path)
    took = time.perf_counter() - start
    assert report.holds
    return {
        "p95_by_readings": by_size,
        "p95_ratio_largest_to_smallest": {name: large[name] / small[name] for name in small},
        "target_ratio": 3.0,
        "target_ms": 50.0,
        "bytes_a_reading": path.stat().st_size / kept,
        "verify_s": took,
        "verify_readings_a_second": kept / took,
    }


def proving(folder: Path) -> dict[str, object]:
    """Walk a chain of many entries, and one of many edits of kept rows."""
    from lodestarch.records.log import Entry

    path = folder / "chain.db"
    with open_records(path, clock=lambda: START) as records:
        with records.unit("Ann Example", START) as unit:
            unit.add(Sample(key="8814", kind="load", received_at=START.isoformat()))
        start = time.perf_counter()
        with records.unit("Ann Example", START) as unit:
            for n in range(EDITS):
                unit.add(
                    Moisture(
                        key=str(n), sample="8814", moisture_pct=13.4, as_entered="13.4", method="oven",
                        measured_on="meal", measured_at=START.isoformat(),
                    )
                )  # fmt: skip
        edits_s = time.perf_counter() - start
        for begin in range(0, ENTRIES, 50_000):
            with records.unit("Ann Example", START) as unit:
                many = min(50_000, ENTRIES - begin)
                unit._entries += [Entry("note.made", "samples:8814", {"n": begin + n}) for n in range(many)]  # noqa: SLF001
    start = time.perf_counter()
    report = verify_at(path)
    took = time.perf_counter() - start
    assert report.holds
    return {
        "entries": report.sites[0].entries,
        "verify_s": took,
        "entries_a_second": report.sites[0].entries / took,
        "kept_rows": EDITS,
        "kept_rows_added_a_second": EDITS / edits_s,
    }


def main() -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        figures = {"storing": storing(folder), "answers": answers(folder), "proving": proving(folder)}
    print(json.dumps(figures, indent=2))


if __name__ == "__main__":
    main()
