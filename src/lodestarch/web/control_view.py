"""The page Bench control as its template takes it: every number a text, every picture drawn."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Final

from lodestarch.control.bench_places import BlindReport
from lodestarch.control.check_charts import CheckChart
from lodestarch.control.duplicate_table import RuleLine
from lodestarch.words import control as said
from lodestarch.words.catalogues import term
from lodestarch.words.drawing.control_pictures import control_pictures, numbered_marks
from lodestarch.words.drawing.quality_pictures import duplicates_picture
from lodestarch.words.drawing.svg import Drawing
from lodestarch.words.numbers import DASH, figure, number
from lodestarch.words.quality import held_row
from lodestarch.words.times import day_text, when
from lodestarch.work.quality.bench_control import BenchControl, DuplicatesNow
from lodestarch.work.quality.bench_now import BenchWatchNow

__all__ = ["ChartView", "ControlView", "LineView", "control_view", "line_view"]

_MOST_ROWS: Final = 30
"""Values in the table beside a chart; earlier ones are on the chart."""


@dataclass(frozen=True, slots=True)
class LineView:
    """What the analyst reads.

    Parameters
    ----------
    sentence : str
    stop : bool
    suspects : tuple of str
    reasons : tuple of str
        Why.
    also : tuple of str
        What else is due or held, one line each.
    shift : str
    """

    sentence: str
    stop: bool
    suspects: tuple[str, ...]
    reasons: tuple[str, ...]
    also: tuple[str, ...]
    shift: str


@dataclass(frozen=True, slots=True)
class ChartView:
    """One material: pictures, what the limits rest on, and the table beside them."""

    material: str
    grain: str
    title: str
    lines: tuple[str, ...]
    pictures: tuple[Drawing, ...]
    rows: tuple[tuple[str, ...], ...]
    earlier: int
    marks: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class ControlView:
    """The whole page."""

    line: LineView
    at: str
    charts: tuple[ChartView, ...]
    without: tuple[str, ...]
    held: tuple[tuple[str, ...], ...]
    failed: tuple[str, ...]
    lifted: tuple[str, ...]
    promises: tuple[tuple[str, ...], ...]
    drifts: tuple[str, ...]
    duplicates: tuple[tuple[str, ...], ...]
    duplicates_from: str
    duplicates_picture: Drawing | None
    rules_title: str
    rules: tuple[tuple[str, ...], ...]
    places: tuple[tuple[str, ...], ...]
    blind: tuple[tuple[str, ...], ...]
    upkeep: tuple[tuple[str, ...], ...]
    done: tuple[str, ...]
    materials: tuple[tuple[str, ...], ...]
    plan: str
    plan_runs: str
    plan_starts: str
    plan_entered: bool


def line_view(watch: BenchWatchNow) -> LineView:
    """The one line, its reasons, and what else waits."""
    also = []
    if watch.verdict == "unwatched":
        also.append(term("control.unwatched-do"))
    also += [said.due_words(d) for d in watch.due]
    hold = watch.hold
    if hold is not None and hold.held:
        also.append(said.held_words(len(hold.held), sum(h.released is not None for h in hold.held)))
    known_due = [u.interval.item for u in watch.upkeep if u.due.due and not u.due.never_done]
    if known_due:
        also.append(said.overdue_words(known_due))
    also += [
        term("control.expired", material=m.key, date=day_text(m.expires_on))
        for m in watch.materials
        if m.expired(watch.at.date())
    ]
    wrong = [s.item.item for s in watch.shift if s.tick is not None and not s.tick.held]
    if wrong:
        items = ", ".join(term(f"shift.item.{i}") for i in wrong)
        also.append(term("control.shift-off", items=items))
    return LineView(
        sentence=said.verdict_line(watch.verdict, watch.watches, watch.due),
        stop=watch.verdict == "stop",
        suspects=tuple(term(f"control.suspect.{c}") for c in said.suspects_of(watch.watches)),
        reasons=said.reason_lines(watch.watches),
        also=tuple(also),
        shift=said.shift_words(watch.shift),
    )


def control_view(now: BenchControl, limits_s: tuple[float, ...]) -> ControlView:
    """Return the page's values."""
    watch, hold = now.watch, now.watch.hold
    charted = {c.material for c in watch.charts}
    duplicates = now.duplicates
    return ControlView(
        line=line_view(watch),
        at=term("control.as-of", at=when(watch.at)) if watch.demonstration else "",
        charts=tuple(_chart(c) for c in watch.charts),
        without=tuple(m.key for m in watch.materials if m.key not in charted),
        held=tuple(held_row(h) for h in hold.held) if hold else (),
        failed=watch.failed,
        lifted=tuple(
            term("control.held.lifted-line", check=c.check, cause=c.cause, by=c.by, at=when(c.at))
            for c in watch.causes
        ),
        promises=tuple(
            (term(f"control.promise.{p.chart}"), number(p.in_control), number(p.shift_1_sd, 1),
             number(p.shift_2_sd, 1))
            for p in now.promises
        ),
        drifts=tuple(said.drift_words(d) for d in now.drifts),
        duplicates=_levels(duplicates) if duplicates else (),
        duplicates_from=_from(duplicates) if duplicates else "",
        duplicates_picture=_pairs_picture(duplicates) if duplicates else None,
        rules_title=_rules_title(duplicates) if duplicates else "",
        rules=tuple(_rule(r) for r in duplicates.rules) if duplicates else (),
        places=tuple(
            (term(f"control.places.kind-{p.kind}"), number(p.levels), said.place_shown(p),
             said.place_widest(p))
            for p in now.places
        ),
        blind=tuple(_blind(b) for b in now.blind),
        upkeep=tuple(
            (u.interval.item, said.item_words(u.interval.item),
             said.interval_words(u.interval.every_days, u.interval.every_runs),
             u.interval.source or u.interval.provenance,
             when(u.last.at) if u.last else DASH, said.when_due(u.due), "due" if u.due.due else "")
            for u in watch.upkeep
        ),
        done=tuple(
            " · ".join(p for p in (when(e.at), said.item_words(e.item), e.place, e.note, e.by) if p)
            for e in reversed(watch.events[-12:])
        ),
        materials=tuple(
            (m.key, m.lot, term(f"control.grain.{m.grain}-watches"), number(m.target_s),
             figure(m.u_s, 1) if m.u_s is not None else DASH, said.level_words(m.target_s, limits_s),
             m.source, _until(m.expires_on, past=m.expired(watch.at.date())))
            for m in watch.materials
        ),
        plan=term(
            "control.plan.said",
            runs=watch.choices.plan.every_runs or DASH,
            starts=", ".join(f"{t:%H:%M}" for t in watch.choices.starts),
        ),
        plan_runs=str(watch.choices.plan.every_runs or ""),
        plan_starts=", ".join(f"{t:%H:%M}" for t in watch.choices.starts),
        plan_entered=watch.choices.entered,
    )  # fmt: skip


def _until(on: date | None, *, past: bool) -> str:
    text = day_text(on) or DASH
    return f"{text}, {term('control.material.past')}" if past else text


def _chart(chart: CheckChart) -> ChartView:
    title = said.chart_title(chart)
    found, ewma, cusum = chart.chart.individuals, chart.chart.ewma, chart.chart.cusum
    sd = found.baseline.sd if found else None
    rows = []
    for i, row in enumerate(chart.chart.rows):
        one = chart.values.row(row, named=True)
        z = "" if not chart.u_s else said.signed((one["seconds"] - chart.target_s) / chart.u_s)
        sums = ""
        if cusum is not None and sd:
            sums = f"{number(cusum.high[i] / sd, 1)} / {number(-cusum.low[i] / sd, 1)}"
        rows.append((
            when(one["run_at"]) if one["run_at"] else DASH, one["sample"], one["bath"] or "",
            one["mill_id"] or "", figure(one["seconds"], 1), z,
            number(found.moving_ranges[i - 1], 1) if found and i else "",
            number(ewma.ewma[i], 1) if ewma else "", sums, ", ".join(chart.broken_at(i)), one["cause"] or "",
        ))  # fmt: skip
    marks = tuple(
        (mark, " · ".join(p for p in (m.at.replace("T", " "), said.item_words(m.item), m.where) if p))
        for mark, _, group in numbered_marks(chart.marks)
        for m in group
    )
    shown = tuple(reversed(rows))[:_MOST_ROWS]
    return ChartView(
        chart.material, term(f"control.grain.{chart.grain}-watches"), title, said.own_words(chart),
        control_pictures(chart, title), shown, len(rows) - len(shown), marks,
    )  # fmt: skip


def _levels(d: DuplicatesNow) -> tuple[tuple[str, ...], ...]:
    return tuple(
        (number(one.sd.fn_s), number(one.sd.sd_s, 1), number(one.limit_s, 1), number(one.limit_pct, 1))
        for one in d.report.levels
    )


def _from(d: DuplicatesNow) -> str:
    weight = number(100.0 * d.own.prior_weight, 1)
    return term("control.duplicates.from", pairs=d.report.scatter.used, weight=weight)


def _pairs_picture(d: DuplicatesNow) -> Drawing | None:
    if not d.levels_s:
        return None
    return duplicates_picture(d.levels_s, d.gaps_s, d.report)


def _rules_title(d: DuplicatesNow) -> str:
    limit, limit_sd = number(d.rule_limit_s), number(d.limit_sd, 1)
    return term("control.duplicates.rules-title", limit=limit, limit_sd=limit_sd)


def _rule(line: RuleLine) -> tuple[str, ...]:
    off = term("control.duplicates.gross-sd", sd=number(line.gross_sd))
    return (
        off if line.gross_sd else term("control.duplicates.gross-none"),
        number(100.0 * line.fresh.p_accepted_at_once),
        number(line.fresh.tubes, 1),
        number(line.fresh.bias_sd, 2),
        number(line.third.tubes, 1),
        number(line.third.bias_sd, 2),
    )


def _blind(one: BlindReport) -> tuple[str, ...]:
    if one.sign_off is None:
        return one.analyst, number(one.pairs), "", "", term("control.blind.few", pairs=one.pairs)
    s = one.sign_off
    bias = DASH
    if s.bias_s is not None:
        low, high = said.signed(s.bias_low_s or 0.0), said.signed(s.bias_high_s or 0.0)
        bias = f"{said.signed(s.bias_s)} ({low}, {high})"
    spread = f"{number(s.spread_ratio, 2)} ({number(s.spread_low, 2)}, {number(s.spread_high, 2)})"
    return one.analyst, number(one.pairs), spread, bias, term(f"control.blind.{s.verdict}")
