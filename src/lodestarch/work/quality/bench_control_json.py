"""The control of the bench as plain values; keys in ``docs/json.md``."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from lodestarch.control.check_charts import CheckChart
from lodestarch.work.bench.day_quality_json import hold_as_dict
from lodestarch.work.quality.as_json import as_dict
from lodestarch.work.quality.bench_control import BenchControl
from lodestarch.work.quality.bench_now import BenchWatchNow, UpkeepLine

__all__ = ["control_as_dict", "watch_as_dict"]


def _at(at: datetime | None) -> str | None:
    return None if at is None else at.isoformat(timespec="minutes")


def _upkeep(line: UpkeepLine) -> dict[str, Any]:
    return {
        "item": line.interval.item,
        "every_days": line.interval.every_days,
        "every_runs": line.interval.every_runs,
        "source": line.interval.source or None,
        "provenance": line.interval.provenance,
        "last_at": _at(line.last.at) if line.last else None,
        "last_by": line.last.by if line.last else None,
        "due": line.due.due,
        "days_left": line.due.days_left,
        "runs_left": line.due.runs_left,
    }


def watch_as_dict(now: BenchWatchNow) -> dict[str, Any]:
    """Verdict, what is due, the list of the shift, upkeep, and what is held."""
    return {
        "at": _at(now.at),
        "demonstration": now.demonstration,
        "verdict": now.verdict,
        "baths": [
            {
                "bath": w.bath,
                "run": w.run,
                "points_to": w.points_to,
                "suspects": list(w.suspects),
                "because": [
                    {
                        "sample": c.sample,
                        "material": c.material,
                        "at": _at(c.at),
                        "z": c.z,
                        "rules": list(c.broken),
                    }
                    for c in w.because
                ],
            }
            for w in now.watches
        ],
        "checks_due": [{"bath": d.bath, "reasons": list(d.reasons), "runs": d.runs} for d in now.due],
        "shift": {
            "began": _at(now.began),
            "items": [
                {
                    "item": line.item.item,
                    "done_at": _at(line.tick.at) if line.tick else None,
                    "by": line.tick.by if line.tick else None,
                    "in_order": line.tick.held if line.tick else None,
                    "value": line.tick.value if line.tick else None,
                    "unit": line.item.quantity or None,
                    "note": line.tick.note if line.tick else None,
                }
                for line in now.shift
            ],
        },
        "upkeep": [_upkeep(line) for line in now.upkeep],
        "hold": None if now.hold is None else hold_as_dict(now.hold),
        "causes": [
            {"check": c.check, "cause": c.cause, "at": _at(c.at), "by": c.by, "note": c.note or None}
            for c in now.causes
        ],
        "materials": [
            {
                "material": m.key,
                "lot": m.lot,
                "grain": m.grain,
                "target_s": m.target_s,
                "u_s": m.u_s,
                "source": m.source,
                "provenance": m.provenance,
                "expires_on": m.expires_on.isoformat() if m.expires_on else None,
            }
            for m in now.materials
        ],
    }


def _chart(chart: CheckChart) -> dict[str, Any]:
    found = chart.chart
    return {
        "material": chart.material,
        "grain": chart.grain,
        "target_s": chart.target_s,
        "u_s": chart.u_s,
        "sd_from": chart.sd_from,
        "own": as_dict(chart.own) if chart.own else None,
        "centre_s": found.individuals.baseline.centre if found.individuals else None,
        "sd_s": found.individuals.baseline.sd if found.individuals else None,
        "values": [
            {
                "sample": row["sample"],
                "at": _at(row["run_at"]),
                "bath": row["bath"],
                "mill": row["mill_id"],
                "seconds": row["seconds"],
                "outcome": row["outcome"],
                "cause": row["cause"],
                "rules": list(chart.broken_at(place)),
                "ewma_s": found.ewma.ewma[place] if found.ewma else None,
                "cusum_high_s": found.cusum.high[place] if found.cusum else None,
                "cusum_low_s": found.cusum.low[place] if found.cusum else None,
            }
            for place, row in enumerate(chart.values[list(found.rows)].iter_rows(named=True))
        ],
        "upkeep": [as_dict(mark) for mark in chart.marks],
    }


def control_as_dict(now: BenchControl) -> dict[str, Any]:
    """Everything that the page shows."""
    d = now.duplicates
    return {
        **watch_as_dict(now.watch),
        "charts": [_chart(c) for c in now.watch.charts],
        "run_lengths": [as_dict(p) for p in now.promises],
        "drift": [
            {"first": p.first, "second": p.second, "occasions": p.occasions, "drift": as_dict(p.drift)}
            for p in now.drifts
        ],
        "duplicates": None
        if d is None
        else {
            "pairs": d.report.scatter.used,
            "prior_weight": d.own.prior_weight,
            "levels": as_dict(d.report.levels),
            "limit_at_300_s": d.rule_limit_s,
            "limit_sd": d.limit_sd,
            "rules": as_dict(d.rules),
        },
        "places": [as_dict(p) for p in now.places],
        "blind": [as_dict(b) for b in now.blind],
    }
