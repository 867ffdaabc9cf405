"""Small days for tests: readings and samples from short descriptions, judged by the real rules."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from typing import Any

import polars as pl

from lodestarch.method.judging import Judged, judge
from lodestarch.method.reading import parse_seconds
from lodestarch.method.scatter import DEFAULT_SCATTER
from lodestarch.method.shipped import shipped_profile
from lodestarch.method.table import READINGS, SAMPLES, conform

START = datetime(2031, 8, 14, 7, 0)  # noqa: DTZ001 - sheets hold the bench's wall clock
PROFILE = shipped_profile("meal-14")


def minute(m: float) -> datetime:
    return START + timedelta(minutes=m)


def readings(rows: Iterable[Mapping[str, Any]]) -> pl.DataFrame:
    """Rows with ``sample`` and ``seconds`` (text as typed) and whatever else; run and position by default."""
    out, seen = [], {}
    for number, given in enumerate(rows, start=2):
        row = {
            "row": number,
            "ticket": given["sample"],
            "run": "1",
            "moisture_pct": 14.0,
            "mass_g": 7.0,
            **given,
        }
        typed = parse_seconds(str(row["seconds"]))
        row["seconds"], row["kind"] = typed.value_s, int(typed.kind)
        key = (row["sample"], row["run"])
        seen[key] = seen.get(key, 0) + 1
        row["position_stated"] = "position" in given
        row.setdefault("position", str(seen[key]))
        out.append(row)
    return conform(pl.DataFrame(out, infer_schema_length=None), READINGS)


def judged(rows: Iterable[Mapping[str, Any]], profile: str = "meal-14") -> Judged:
    default = shipped_profile(profile)
    return judge(readings(rows), {}, default, DEFAULT_SCATTER)


def samples(rows: Iterable[Mapping[str, Any]]) -> pl.DataFrame:
    out = [{"row": n, "ticket": r["sample"], "kind": "load", **r} for n, r in enumerate(rows, start=2)]
    return conform(pl.DataFrame(out, infer_schema_length=None), SAMPLES)
