"""One ticket in work, as the bench sees it: station, portion, tubes, readings, result."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from lodestarch.common.findings import Finding, Where
from lodestarch.control.release_rule import why_not_by_rule
from lodestarch.method.judge import Status
from lodestarch.method.portion import Portion, moisture_findings, portion
from lodestarch.method.profile import Profile
from lodestarch.method.reading import Kind
from lodestarch.method.screening import second_tube_wanted
from lodestarch.records.bench_read import InWork
from lodestarch.records.tables import Lowering, Moisture, PortionWeighed, Preparation, Release, Sample
from lodestarch.records.unit import View
from lodestarch.trade.limits import Limit
from lodestarch.work.bench.bench_day import judge_standing
from lodestarch.work.bench.choices import limits_read_out, profile_of_bench
from lodestarch.work.keeping.profiles import ProfileBook, book_of
from lodestarch.work.quality.check_runs import IN_CONTROL, held_at_bench, newest_runs

__all__ = ["STATIONS", "TicketInWork", "bench_stopped", "tickets_in_work"]

STATIONS: Final = ("grind", "moisture", "weigh", "bath", "judge", "released")
"""In the order in which a sample passes them."""

Row = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class TicketInWork:
    """Everything that a page shows of one ticket.

    Parameters
    ----------
    sample : Sample
    whose : str or None
        Name of whose it is; ``None`` where nobody said, or it was erased.
    station : str
        One of :data:`STATIONS`.
    moisture : Moisture or None
        The latest.
    portion : Portion or None
        What to weigh; ``None`` without a moisture that the method covers.
    weighed : tuple of PortionWeighed
        Portions that are not lowered yet.
    inside : tuple of Lowering
        Tubes in a bath.
    readings : tuple of mapping
        Those that stand, in ``method.table.JUDGED``.
    result : mapping or None
        What they say now, in ``method.table.RESULTS``; ``None`` before the sample is judged.
    findings : tuple of Finding
    release : Release or None
        The one that stands.
    near_step_s : float or None
        The step that a one-tube result is too close to. [s]
    keeps : tuple of str
        What keeps it from going out by rule; empty where nothing does.
    """

    sample: Sample
    whose: str | None
    station: str
    profile: Profile
    moisture: Moisture | None
    portion: Portion | None
    weighed: tuple[PortionWeighed, ...]
    inside: tuple[Lowering, ...]
    readings: tuple[Row, ...]
    result: Row | None
    findings: tuple[Finding, ...]
    release: Release | None
    near_step_s: float | None
    keeps: tuple[str, ...]

    @property
    def name(self) -> str:
        """What it is called on the phone."""
        return self.sample.ticket or self.sample.key


@dataclass(frozen=True, slots=True)
class _Bench:
    """What all tickets share."""

    book: ProfileBook
    profile: Profile
    limits: tuple[Limit, ...]
    names: Mapping[str, str]
    stopped: bool
    ground: frozenset[str]


def _station(
    inside: Sequence[Lowering],
    readings: Sequence[Row],
    moisture: Moisture | None,
    weighed: Sequence[PortionWeighed],
    *,
    released: bool,
    ground: bool,
) -> str:
    if inside:
        return "bath"
    if released:
        return "released"
    if weighed:  # a fresh pair is being weighed: the old readings wait for it
        return "weigh"
    if readings:
        return "judge"
    if moisture is not None:
        return "weigh"
    return "moisture" if ground else "grind"


def _changed_since(release: Release, result: Row | None) -> bool:
    """The readings say something else by now than what was let out."""
    out = json.loads(release.result)
    return result is not None and any(out.get(k) != result[k] for k in ("seconds", "kind", "status", "tubes"))


def _steps(limits: Sequence[Limit]) -> list[float]:
    return [b for limit in limits for b in (limit.at_least_s, limit.at_most_s) if b is not None]


def _near_step(result: Row | None, limits: Sequence[Limit]) -> float | None:
    if result is None or result["status"] != "screen" or result["seconds"] is None:
        return None
    return second_tube_wanted(result["seconds"], Kind(result["kind"]), result["u_s"], _steps(limits))


def _of(rows: Sequence[Any], sample: str) -> list[Any]:
    return [row for row in rows if row.sample == sample]


def _what_to_weigh(
    moisture: Moisture | None, bench: _Bench, where: Where
) -> tuple[Portion | None, tuple[Finding, ...]]:
    if moisture is None:
        return None, ()
    found = moisture_findings(moisture.moisture_pct, bench.profile, where)
    return (None, found) if found else (portion(moisture.moisture_pct, bench.profile), ())


def _ticket(
    sample: Sample,
    work: InWork,
    bench: _Bench,
    readings: Sequence[Row],
    judged: Row | None,
    found: Sequence[Finding],
) -> TicketInWork:
    moistures, lowerings = _of(work.moistures, sample.key), _of(work.lowerings, sample.key)
    weighed = [p for p in _of(work.portions, sample.key) if p.used_in is None]
    inside = tuple(one for one in lowerings if one.ended is None)
    release = next(iter(_of(work.releases, sample.key)), None)
    moisture = moistures[-1] if moistures else None
    what, beyond = _what_to_weigh(moisture, bench, Where(ticket=sample.ticket, sample=sample.key))
    kept = {row["sample"] for row in work.results.select("sample").iter_rows(named=True)}
    result = judged if sample.key in kept else None
    findings = (*beyond, *found) if not readings else tuple(found)
    keeps = (
        ("no-result",)
        if result is None
        else why_not_by_rule(result["status"], result["agreement"], findings, bench_stopped=bench.stopped)
    )
    return TicketInWork(
        sample=sample,
        whose=bench.names.get(sample.whose or ""),
        station=_station(
            inside,
            readings,
            moisture,
            weighed,
            released=release is not None and not _changed_since(release, result),
            ground=sample.key in bench.ground,
        ),
        profile=bench.profile,
        moisture=moisture,
        portion=what,
        weighed=tuple(weighed),
        inside=inside,
        readings=tuple(readings),
        result=result,
        findings=findings,
        release=release,
        near_step_s=_near_step(result, bench.limits),
        keeps=keeps,
    )


def tickets_in_work(view: View, samples: Sequence[str]) -> tuple[TicketInWork, ...]:
    """Return the state of some samples, judged as their readings stand now."""
    work, book = view.in_work(samples), book_of(view)
    profile = profile_of_bench(view, book)
    judged = judge_standing(view, work.readings, book)
    by_sample: dict[str, list[Row]] = {}
    for row in judged.readings.iter_rows(named=True):
        by_sample.setdefault(row["sample"], []).append(row)
    held = held_at_bench(view, judged.readings)
    results = {
        row["sample"]: {**row, "status": Status.HELD.value} if row["sample"] in held else row
        for row in judged.results.iter_rows(named=True)
    }
    told: dict[str, list[Finding]] = {}
    for finding in judged.findings:
        told.setdefault(finding.where.sample or "", []).append(finding)
    bench = _Bench(
        book,
        profile,
        limits_read_out(view),
        view.names("parties"),
        bench_stopped(view),
        frozenset(p.sample for p in view.of_samples(Preparation, samples)),
    )
    return tuple(
        _ticket(s, work, bench, by_sample.get(s.key, ()), results.get(s.key), told.get(s.key, ()))
        for s in work.samples
    )


def bench_stopped(view: View) -> bool:
    """Tell whether the newest check run of any material in any bath was not in control."""
    return any(run.judged not in (None, IN_CONTROL) for run in newest_runs(view))
