"""The control of the bench in words: the one line, its reasons, what is due, what a chart says."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Final

from lodestarch.control.bench_places import PlaceReport
from lodestarch.control.bench_watch import BathWatch, CheckDue
from lodestarch.control.check_charts import CheckChart, PairDrift
from lodestarch.control.place_effects import PlaceEffect
from lodestarch.control.upkeep import Due
from lodestarch.control.upkeep_items import ShiftLine
from lodestarch.words.catalogues import term
from lodestarch.words.numbers import figure, number
from lodestarch.words.times import when

__all__ = [
    "bath_words", "chart_title", "clock", "drift_words", "due_words", "held_words", "interval_words",
    "item_words", "level_words", "overdue_words", "own_words", "place_shown", "place_widest",
    "reason_lines", "rules_words", "shift_words", "signed", "suspects_of", "verdict_line", "when_due",
]  # fmt: skip

_NEAR: Final = 0.15
"""Share of a limit within which a material is called near it. A choice of ours."""


def _all(names: Sequence[str]) -> str:
    if len(names) < 2:
        return "".join(names)
    return term("control.and", first=", ".join(names[:-1]), last=names[-1])


def clock(at: datetime) -> str:
    """A clock time: ``08:48``."""
    return f"{at:%H:%M}"


def signed(value: float, decimals: int = 1) -> str:
    """A number with its sign, a true minus."""
    text = number(value, decimals)
    return text if value < 0.0 or text.strip("0.,") == "" else f"+{text}"


def bath_words(baths: Sequence[str]) -> str:
    """``bath A``; ``baths A and B``."""
    named = [b for b in baths if b]
    if not named:
        return term("control.bath-unnamed")
    if len(named) == 1:
        return term("control.bath", bath=named[0])
    return term("control.baths", baths=_all(named))


def suspects_of(watches: Sequence[BathWatch]) -> tuple[str, ...]:
    """What to look at, in order, over all stopped baths: those of the first, then what others add."""
    return tuple(dict.fromkeys(code for w in watches if not w.run for code in w.suspects))


def verdict_line(verdict: str, watches: Sequence[BathWatch], due: Sequence[CheckDue]) -> str:
    """The one line for the analyst."""
    if verdict == "stop":
        stopped = [w for w in watches if not w.run]
        baths = [w.bath for w in stopped if w.bath]
        if len(suspects_of(watches)) > 3 or not baths or any(w.points_to == "mill" for w in stopped):
            return term("control.stop-other")
        if len(baths) == 1:
            return term("control.stop-bath", bath=baths[0])
        return term("control.stop-baths", baths=_all(baths))
    if verdict == "check-first":
        baths = [d.bath for d in due if d.reasons != ("after-mill",)]
        if not baths:
            return term("control.check-first-mill")
        return term("control.check-first", baths=bath_words(baths))
    return term("control.unwatched" if verdict == "unwatched" else "control.go")


def rules_words(rules: Sequence[str]) -> str:
    """Rules by their neutral names, each with what it says."""
    return _all([f"{r} ({term(f'control.rule.{r}')})" for r in rules])


def reason_lines(watches: Sequence[BathWatch]) -> tuple[str, ...]:
    """Why baths are stopped, and what the pattern points to."""
    out = []
    for watch in (w for w in watches if not w.run):
        for one in watch.because:
            said = {"sample": one.sample, "bath": bath_words([one.bath]), "at": when(one.at)}
            if "1-3s" in one.broken and abs(one.z) > 3.0:
                side = term("control.side-above" if one.z > 0.0 else "control.side-below")
                out.append(term("control.because-off", z=number(abs(one.z), 1), side=side, **said))
            else:
                out.append(term("control.because-rule", rules=rules_words(one.broken), **said))
        out.append(term(f"control.points-{watch.points_to}"))
    return tuple(dict.fromkeys(out))


def due_words(due: CheckDue) -> str:
    """A check sample that is due, and why."""
    if due.reasons == ("after-mill",):
        return term("control.due-mill")
    reasons = [term(f"control.reason.{r}", runs=due.runs) for r in due.reasons]
    return term("control.due-bath", bath=bath_words([due.bath]), reasons="; ".join(reasons))


def held_words(held: int, out: int) -> str:
    """How many results are held, and how many of them had gone out."""
    if held == 1:
        return term("control.held-one-out" if out else "control.held-one")
    return term("control.held-many", count=held, out=out)


def item_words(item: str) -> str:
    """An item of upkeep."""
    return term(f"control.upkeep.items.{item}")


def overdue_words(items: Sequence[str]) -> str:
    """Upkeep that is due, in one line."""
    if len(items) == 1:
        return term("control.overdue-one", first=item_words(items[0]))
    return term("control.overdue-many", count=len(items), first=item_words(items[0]))


def when_due(due: Due) -> str:
    """When an item is due."""
    if due.never_done:
        return term("control.upkeep.never")
    if due.due:
        if due.runs_left is not None and due.runs_left <= 0:
            return term("control.upkeep.now-runs", runs=-due.runs_left)
        late = int(-(due.days_left or 0.0))
        if late == 1:
            return term("control.upkeep.now-day")
        return term("control.upkeep.now", days=late) if late else term("control.upkeep.today")
    if due.days_left is None:
        return term("control.upkeep.in-runs", runs=due.runs_left)
    days = max(1, round(due.days_left))
    return term("control.upkeep.in-day") if days == 1 else term("control.upkeep.in-days", days=days)


def interval_words(every_days: float | None, every_runs: int | None) -> str:
    """An interval: ``30 days or 2 000 runs``."""
    parts = []
    if every_days is not None:
        one = every_days == 1.0
        parts.append(
            term("control.upkeep.day") if one else term("control.upkeep.days", days=figure(every_days))
        )
    if every_runs is not None:
        parts.append(term("control.upkeep.runs", runs=number(every_runs)))
    return parts[0] if len(parts) == 1 else term("control.upkeep.or", first=parts[0], second=parts[1])


def shift_words(lines: Sequence[ShiftLine]) -> str:
    """How far the list at the start of the shift is."""
    ticks = [line.tick for line in lines if line.tick is not None]
    if len(ticks) < len(lines):
        return term("control.shift-open", done=len(ticks), of=len(lines))
    return term("control.shift-done", of=len(lines), at=clock(max(t.at for t in ticks)))


def level_words(target_s: float, limits_s: Sequence[float]) -> str:
    """Low, near a limit, or high: where a material lies among the limits that are read out."""
    if not limits_s:
        return ""
    if any(abs(target_s - limit) <= _NEAR * limit for limit in limits_s):
        return term("control.material.level-near")
    low = target_s < min(limits_s)
    return term("control.material.level-low" if low else "control.material.level-high")


def chart_title(chart: CheckChart) -> str:
    """What a chart finds, as a sentence."""
    rows = chart.chart.rows
    said = {"material": chart.material, "values": len(rows)}
    if chart.sd_from == "none":
        return term("control.chart.title-few", **said)
    judged = [chart.values.row(row, named=True) for row in rows]
    # A failure whose cause is not found says more than the values after it.
    open_ones = [one for one in judged if one["outcome"] == "off" and not one["cause"]]
    if open_ones and chart.u_s:
        newest = open_ones[-1]
        z = (newest["seconds"] - chart.target_s) / chart.u_s
        return term(
            "control.chart.title-off",
            value=figure(newest["seconds"], 1),
            bath=bath_words([newest["bath"] or ""]),
            at=when(newest["run_at"]) if newest["run_at"] else "",
            z=number(abs(z), 1),
            side=term("control.side-above" if z > 0.0 else "control.side-below"),
            material=chart.material,
        )
    rules = chart.broken_at(len(rows) - 1)
    if rules:
        return term("control.chart.title-rule", rules=rules_words(rules), **said)
    return term("control.chart.title-calm", **said)


def own_words(chart: CheckChart) -> tuple[str, ...]:
    """What the limits of a chart rest on, and what the material's own values say so far."""
    own = chart.own
    lines = []
    if chart.sd_from == "entered":
        lines.append(term("control.chart.sd-entered", u=figure(chart.u_s or 0.0, 1), **{"from": 20}))
    elif chart.sd_from == "own" and own is not None:
        said = {"centre": number(own.centre_s, 1), "sd": number(own.sd_s, 1)}
        lines.append(term("control.chart.sd-own", values=own.values, **said))
    else:
        lines.append(term("control.chart.sd-none"))
    if own is None:
        lines.append(term("control.chart.own-none"))
    else:
        said = {"centre": number(own.centre_s, 1), "low": number(own.low_s), "high": number(own.high_s)}
        lines.append(term("control.chart.own", values=own.values, factor=number(own.factor, 1), **said))
    return tuple(lines)


def drift_words(one: PairDrift) -> str:
    """Whether two materials that ran side by side drift, or the bench."""
    said = {"first": one.first, "second": one.second, "pairs": one.occasions}
    if one.drift is None:
        return term("control.drift.few", **said)
    d = one.drift
    slope = 0.5 * (d.first_pct_per_day + d.second_pct_per_day)
    shown = slope if d.verdict == "bench" else d.difference_pct_per_day
    if d.verdict == "second-material":
        shown = -shown
    return term(f"control.drift.{d.verdict}", slope=signed(shown, 2), **said)


def _effect(name: str, one: PlaceEffect) -> str:
    return term(
        name, place=one.place, effect=signed(one.effect_pct), low=signed(one.low_pct),
        high=signed(one.high_pct),
    )  # fmt: skip


def place_shown(report: PlaceReport) -> str:
    """What runs high or low among places of one kind, beyond chance."""
    if report.effects is None:
        return term("control.places.one")
    if not report.effects.readings:
        return term("control.places.not-compared")
    shown = [
        _effect(f"control.places.shown-{p.verdict}", p)
        for p in report.effects.places
        if p.verdict in {"high", "low"}
    ]
    return "; ".join(shown) or term("control.places.nothing")


def place_widest(report: PlaceReport) -> str:
    """The place furthest from the mean, with its interval: how little or much could be told."""
    if report.effects is None:
        return ""
    compared = [p for p in report.effects.places if p.verdict != "not-compared"]
    if not compared:
        return ""
    return _effect("control.places.effect", max(compared, key=lambda p: abs(p.effect_pct)))
