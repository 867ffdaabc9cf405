"""May the bench run, and what is due: read from the records as they stand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

import polars as pl

from lodestarch.control.bench_watch import BathWatch, CheckDue, CheckSeen, bath_watches, verdict_of
from lodestarch.control.check_charts import CHECK_VALUES, CheckChart, check_charts
from lodestarch.control.check_outcomes import check_outcomes
from lodestarch.control.day_hold import DayHold
from lodestarch.control.upkeep import Due, UpkeepEvent, UpkeepRule, check_due, upkeep_due
from lodestarch.control.upkeep_items import ShiftLine, shift_began, shift_lines
from lodestarch.method.table import JUDGED, RESULTS, SAMPLES, empty
from lodestarch.records.engine import Records
from lodestarch.records.unit import View
from lodestarch.work.bench.choices import baths_of
from lodestarch.work.bench.day_hold import hold_of_day
from lodestarch.work.bench.earlier import Earlier, earlier_days
from lodestarch.work.quality.control_records import (
    ControlChoices,
    Interval,
    KeptCause,
    KeptMaterial,
    KeptUpkeep,
    control_choices,
    intervals_of,
    kept_causes,
    kept_materials,
    known_materials,
    ticks_of,
    upkeep_of,
)

__all__ = ["BenchWatchNow", "UpkeepLine", "bench_watch_now", "bench_watch_of", "failed_checks"]

_IN_USE: Final = timedelta(days=30)
"""A bath in which nothing ran for so long is out of use: no check sample is due in it. A setting of ours."""
_EPOCH: Final = datetime(1970, 1, 1)  # noqa: DTZ001 - the bench's own clock has no zone


@dataclass(frozen=True, slots=True)
class UpkeepLine:
    """One item with its interval, whether it is due, and when it was done last."""

    interval: Interval
    due: Due
    last: KeptUpkeep | None


@dataclass(frozen=True, slots=True)
class BenchWatchNow:
    """The bench's control at one moment.

    Parameters
    ----------
    at : datetime
        On the bench's clock; for invented records the moment of their last run.
    demonstration : bool
    verdict : str
        As :func:`lodestarch.control.bench_watch.verdict_of`.
    watches : tuple of BathWatch
    due : tuple of CheckDue
        Check samples; an empty bath: whole grain after a mill was opened.
    materials : tuple of KeptMaterial
    charts : tuple of CheckChart
    values : polars.DataFrame
        In ``control.check_charts.CHECK_VALUES``.
    hold : DayHold or None
    causes : tuple of KeptCause
    began : datetime
        When the shift began.
    shift : tuple of ShiftLine
    upkeep : tuple of UpkeepLine
        What is due first.
    events : tuple of KeptUpkeep
    choices : ControlChoices
    earlier : Earlier
    """

    at: datetime
    demonstration: bool
    verdict: str
    watches: tuple[BathWatch, ...]
    due: tuple[CheckDue, ...]
    materials: tuple[KeptMaterial, ...]
    charts: tuple[CheckChart, ...]
    values: pl.DataFrame
    hold: DayHold | None
    causes: tuple[KeptCause, ...]
    began: datetime
    shift: tuple[ShiftLine, ...]
    upkeep: tuple[UpkeepLine, ...]
    events: tuple[KeptUpkeep, ...]
    choices: ControlChoices
    earlier: Earlier

    @property
    def failed(self) -> tuple[str, ...]:
        """Check samples that were off and have no cause."""
        return self.hold.failed if self.hold else ()

    @property
    def shift_open(self) -> int:
        """Items of the list that are not ticked in this shift."""
        return sum(line.tick is None for line in self.shift)


def bench_watch_now(records: Records, *, at: datetime) -> BenchWatchNow:
    """Return the bench's control as it stands."""
    with records.view() as view:
        return bench_watch_of(view, at)


def failed_checks(records: Records) -> tuple[str, ...]:
    """Return the check samples that were off and have no cause recorded."""
    with records.view() as view:
        earlier, _ = _earlier(view)
        hold = _hold(view, earlier)
        return hold.failed if hold else ()


def _earlier(view: View) -> tuple[Earlier, bool]:
    """Days looked back over; records of invented days alone are read as a whole."""
    days = [d for d in view.list_days() if d.inputs]
    invented = bool(days) and all(d.demonstration for d in days)
    return earlier_days(view, (), demonstration=None if invented else False), invented


def _hold(view: View, earlier: Earlier) -> DayHold | None:
    return hold_of_day(
        empty(JUDGED), empty(RESULTS), empty(SAMPLES), known_materials(view), earlier, {}, view
    )


def bench_watch_of(view: View, at: datetime) -> BenchWatchNow:
    """Return the bench's control from a view that is open already."""
    earlier, invented = _earlier(view)
    now, zone = at.replace(tzinfo=None), at.tzinfo
    if invented:
        last = earlier.lowered["run_at"].max()
        now = last if isinstance(last, datetime) else now
    materials, events = kept_materials(view), upkeep_of(view, zone)
    causes, choices = kept_causes(view, zone), control_choices(view)
    outcomes = check_outcomes(earlier.results, earlier.samples, known_materials(view))
    values = _values(outcomes, earlier)
    marks = [(e.at, e.item, e.place) for e in events if e.at <= now]
    charts = check_charts(
        values,
        {m.key: m.grain for m in materials},
        {m.key: m.target_s for m in materials},
        {m.key: m.u_s for m in materials},
        marks,
    )
    seen = _seen(outcomes, earlier, charts, materials)
    watches = bath_watches(seen)
    began = shift_began(now, choices.starts)
    usable = [m for m in materials if not m.expired(now.date())]
    due = _due(view, earlier, seen, usable, events, causes, choices, began, now) if usable else ()
    return BenchWatchNow(
        at=now,
        demonstration=invented,
        verdict=verdict_of(watches, due, materials=len(usable)),
        watches=watches,
        due=due,
        materials=materials,
        charts=charts,
        values=values,
        hold=_hold(view, earlier),
        causes=causes,
        began=began,
        shift=shift_lines(ticks_of(view, zone), began),
        upkeep=_upkeep(view, earlier, events, now),
        events=events,
        choices=choices,
        earlier=earlier,
    )


def _lowered_last(earlier: Earlier) -> pl.DataFrame:
    """The last lowering of each sample: bath and time."""
    return (
        earlier.lowered.sort("run_at", nulls_last=False)
        .unique("sample", keep="last", maintain_order=True)
        .select("sample", "bath", "run_at")
    )


def _values(outcomes: pl.DataFrame, earlier: Earlier) -> pl.DataFrame:
    """Exact check results with place, time and cause."""
    causes = pl.DataFrame(
        list(earlier.causes.items()), schema={"sample": pl.String, "cause": pl.String}, orient="row"
    )
    frame = (
        outcomes.filter(pl.col("mean_s").is_not_null(), pl.col("kind") == 0)
        .drop("seconds")
        .rename({"mean_s": "seconds"})
        .join(_lowered_last(earlier), on="sample", how="left", maintain_order="left")
        .join(causes, on="sample", how="left", maintain_order="left")
    )
    return frame.select(pl.col(n).cast(k) for n, k in CHECK_VALUES.items()).sort("run_at", nulls_last=True)


def _seen(
    outcomes: pl.DataFrame,
    earlier: Earlier,
    charts: Sequence[CheckChart],
    materials: Sequence[KeptMaterial],
) -> tuple[CheckSeen, ...]:
    """Check results as the verdict takes them, with the rules that each completes."""
    broken: dict[str, tuple[str, ...]] = {}
    for chart in charts:
        names = chart.values["sample"].to_list()
        broken |= {names[row]: chart.broken_at(i) for i, row in enumerate(chart.chart.rows)}
    grains = {m.key: m.grain for m in materials}
    placed = outcomes.join(_lowered_last(earlier), on="sample", how="inner").filter(
        pl.col("run_at").is_not_null(), pl.col("outcome") != "unsettled"
    )
    out = []
    for row in placed.sort("run_at").iter_rows(named=True):
        rules = broken.get(row["sample"], ())
        if row["outcome"] == "off":
            rules = tuple(dict.fromkeys(("1-3s", *rules)))
        cause = earlier.causes.get(row["sample"], "").strip()
        out.append(
            CheckSeen(
                row["sample"], row["material"], grains[row["material"]], row["bath"] or "", row["run_at"],
                row["z"], rules, cause,
            )
        )  # fmt: skip
    return tuple(out)


def _s(at: datetime) -> float:
    return (at - _EPOCH).total_seconds()


def _due(
    view: View,
    earlier: Earlier,
    seen: Sequence[CheckSeen],
    usable: Sequence[KeptMaterial],
    events: Sequence[KeptUpkeep],
    causes: Sequence[KeptCause],
    choices: ControlChoices,
    began: datetime,
    now: datetime,
) -> tuple[CheckDue, ...]:
    """Check samples that are due, bath by bath, and of whole grain where a mill was opened."""
    runs = earlier.lowered.filter(
        pl.col("run_at").is_not_null(), ~pl.col("sample").is_in([c.sample for c in seen])
    )
    used = runs.filter(pl.col("run_at") >= now - _IN_USE)["bath"].fill_null("").unique().sort().to_list()
    out = []
    for bath in used or baths_of(view):
        mine = [c for c in seen if c.bath == bath]
        lowered = runs.filter(pl.col("bath").fill_null("") == bath)["run_at"].unique().to_list()
        changes = [
            UpkeepEvent(e.item, _s(e.at))
            for e in events
            if e.changes_results and not e.item.startswith("mill") and e.place in {"", bath}
        ]
        reasons = check_due(
            choices.plan,
            shift_began=_s(began),
            now=_s(now),
            check_at=[_s(c.at) for c in mine],
            run_at=[_s(t) for t in lowered],
            events=changes,
        )
        good = max((c.at for c in mine if not c.broken), default=_EPOCH)
        baths = {c.sample for c in mine}
        if any(c.check in baths and c.at > good for c in causes):
            reasons = (*reasons, "after-cause")
        if reasons:
            last = max((c.at for c in mine), default=_EPOCH)
            out.append(CheckDue(bath, reasons, sum(t > max(last, began) for t in lowered)))
    mills = [e.at for e in events if e.changes_results and e.item.startswith("mill") and e.at <= now]
    whole = max((c.at for c in seen if c.grain == "whole"), default=_EPOCH)
    if mills and max(mills) > whole and any(m.grain == "whole" for m in usable):
        out.append(CheckDue("", ("after-mill",), 0))
    return tuple(out)


def _upkeep(
    view: View, earlier: Earlier, events: Sequence[KeptUpkeep], now: datetime
) -> tuple[UpkeepLine, ...]:
    """Every item with its interval and when it is due; an item counts from its last event anywhere."""
    intervals = {i.item: i for i in intervals_of(view)}
    rules = [UpkeepRule(i.item, i.every_days, i.every_runs) for i in intervals.values()]
    runs = earlier.lowered.filter(pl.col("run_at").is_not_null())["run_at"].unique().to_list()
    found = upkeep_due(rules, [UpkeepEvent(e.item, _s(e.at)) for e in events], _s(now), [_s(t) for t in runs])
    lasts = {e.item: e for e in events if e.at <= now}
    return tuple(UpkeepLine(intervals[d.item], d, lasts.get(d.item)) for d in found)
