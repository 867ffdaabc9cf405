"""Days for the tests: invented readings with every kind of value that a sheet can hold."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import polars as pl

from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.method.table import JUDGED, RESULTS, SAMPLES, conform
from lodestarch.records.day_values import DayParts, InputFile, RefusedLine

START = datetime(2026, 7, 14, 6, 0, tzinfo=UTC)


class Clock:
    """A clock that stands until it is moved."""

    def __init__(self, now: datetime = START) -> None:
        self.now = now

    def __call__(self) -> datetime:
        return self.now

    def move(self, **by: float) -> datetime:
        self.now += timedelta(**by)
        return self.now


def readings(n: int, first_sample: int = 8000, seed: int = 1) -> pl.DataFrame:
    """Two tubes a sample, with floors, tubes set aside, blanks, quotes and text beyond ASCII."""
    rng = np.random.default_rng(seed)
    i = np.arange(n)
    sample = [str(first_sample + k // 2) for k in i]
    seconds = rng.uniform(62, 400, n).round(0)
    minutes = [START.replace(tzinfo=None) + timedelta(minutes=int(k) % 600) for k in i]
    return conform(
        pl.DataFrame(
            {
                "row": i + 2,
                "sample": sample,
                "ticket": [None if k % 50 == 49 else f"T-{s}" for k, s in zip(i, sample, strict=True)],
                "run": ["2026-07-14"] * n,
                "bath": ["Ä" if k % 2 else "B" for k in i],
                "position": [str(k % 2 + 1) for k in i],
                "tube_id": [f"t{k % 40}" for k in i],
                "stirrer_id": [f's"{k % 40}\\' for k in i],
                "seconds": seconds,
                "kind": (seconds <= 70).astype(np.int8),
                "moisture_pct": [
                    None if k % 31 == 30 else float(m) for k, m in enumerate(rng.uniform(10, 18, n).round(1))
                ],
                "mass_g": rng.uniform(6.4, 7.6, n).round(2),
                "pressure_hpa": np.full(n, 1003.2),
                "corrected_by_instrument": [None if k % 3 == 0 else bool(k % 2) for k in i],
                "analyst": ["Ann Example" if k % 7 else None for k in i],
                "run_at": [None if k % 20 == 19 else m for k, m in zip(i, minutes, strict=True)],
                "set_aside_cause": ["leak" if k % 60 == 59 else None for k in i],
                "position_stated": np.full(n, fill_value=True),
                "row_text": [
                    f"{s}\x1f{k % 2 + 1}\x1f{f:g}\x1fAnn" for k, s, f in zip(i, sample, seconds, strict=True)
                ],
                "state": [2 if k % 60 == 59 else 0 for k in i],
                "state_code": ["leak" if k % 60 == 59 else None for k in i],
                "portion_g": rng.uniform(6.4, 7.6, n).round(2),
            }
        ),
        JUDGED,
    )


def results(rows: pl.DataFrame) -> pl.DataFrame:
    """One result a sample: the mean of its tubes."""
    return conform(
        rows.group_by("sample", maintain_order=True)
        .agg(
            ticket=pl.col("ticket").first(),
            kind=pl.col("kind").min(),
            mean_s=pl.col("seconds").mean(),
            tubes=pl.len(),
            spread_s=pl.col("seconds").max() - pl.col("seconds").min(),
            moisture_pct=pl.col("moisture_pct").mean(),
            first_row=pl.col("row").min(),
        )
        .with_columns(
            profile=pl.lit("dry-matter-15@1"),
            status=pl.lit("preliminary"),
            seconds=pl.col("mean_s").round(0),
            how=pl.lit("mean"),
            tubes_stated=pl.lit(value=True),
            u_s=pl.col("mean_s") / 41,
            ln=6000 / (pl.col("mean_s") - 50),
        ),
        RESULTS,
    )


def samples(rows: pl.DataFrame) -> pl.DataFrame:
    """A sample sheet: growers with names, dates, tonnes."""
    codes = rows["sample"].unique(maintain_order=True)
    return conform(
        pl.DataFrame(
            {
                "row": range(2, codes.len() + 2),
                "sample": codes,
                "kind": "load",
                "grower": [f"Grower {k % 9}" for k in range(codes.len())],
                "harvest_date": START.date(),
                "tonnes": [20 + k / 7 for k in range(codes.len())],
                "received_at": START.replace(tzinfo=None, microsecond=125000),
                "row_text": [f"{c}\x1fload\x1fGrower {k % 9}" for k, c in enumerate(codes)],
            }
        ),
        SAMPLES,
    )


def day(
    n: int = 60, *, first_sample: int = 8000, seed: int = 1, sheet: str = "a", at: datetime = START
) -> DayParts:
    """A whole day of ``n`` readings."""
    rows = readings(n, first_sample, seed)
    return DayParts(
        title="14 July",
        read_at=at,
        demonstration=True,
        inputs=(
            InputFile("bench", f"{sheet}.csv", sheet.encode().hex().rjust(64, "0")),
            InputFile("samples", "s.csv", "0" * 64),
        ),
        profiles=("dry-matter-15@1",),
        readings=rows,
        samples=samples(rows),
        results=results(rows),
        refused=(RefusedLine("bench", n + 2, "8100,␀,Ann Example", "row-short"),),
        findings=(
            Finding(
                "pair-disagrees",
                Where("a.csv", 3, "seconds", "T-8000", "8000", "2026-07-14", "2"),
                Severity.CHECK,
                {"spread_s": 31.5, "limit_s": 20, "said": None, "ok": False},
            ),
            Finding("row-short", Where("a.csv", n + 2), Severity.STOP),
        ),
        summary={"counts": {"stand": n // 2}, "limits": [300.0, None], "bins": []},
    )
