"""A day on the terminal: the sentence on top, the register, what to look at."""

from __future__ import annotations

from typing import Any

import polars as pl

from lodestarch.cli.day_prices import show_day_prices
from lodestarch.cli.day_quality import show_day_hold, show_day_own
from lodestarch.cli.output import say, show_findings, table
from lodestarch.common.findings import Severity
from lodestarch.method.profile import Profile
from lodestarch.method.reading import Kind, State
from lodestarch.words.day import day_sentence
from lodestarch.words.numbers import DASH, number
from lodestarch.words.result import reported, seconds_text
from lodestarch.work.bench.outcome import DayOutcome, SheetAccount

__all__ = ["show_day"]

_SIGN = {Kind.EXACT.value: "", Kind.AT_OR_BELOW.value: "≤", Kind.ABOVE.value: ">"}
_MARK = {State.STANDS.value: "", State.RUN_AGAIN.value: "*", State.SET_ASIDE.value: "x"}


def _tubes(readings: pl.DataFrame) -> str:
    return "  ".join(
        f"{_SIGN[kind]}{seconds:g}{_MARK[state]}"
        for seconds, kind, state in readings.select("seconds", "kind", "state").iter_rows()
    )


def _line(row: dict[str, Any], tubes: str, profiles: dict[str, Profile]) -> tuple[str, ...]:
    result = reported(row, profiles.get(row["profile"]))
    ln = number(row["ln"], 2) if row["ln"] is not None else DASH
    spread = DASH if row["spread_s"] is None else f"{number(row['spread_s'])} / {number(row['limit_s'])}"
    u = DASH if row["u_s"] is None or row["status"] == "held" else number(row["u_s"], 1)
    shown = seconds_text(result)
    # A held figure is no result: it stands in brackets until it is settled.
    shown = f"({shown})" if row["status"] == "held" and shown != DASH else shown
    return (row["ticket"] or row["sample"], shown, u, ln, tubes, spread, row["status"])


def _account(account: SheetAccount) -> str:
    parts = [f"{account.rows} rows: {account.taken} taken"]
    if account.taken_with_finding:
        parts.append(f"{account.taken_with_finding} of them with something to look at")
    parts.append(f"{account.refused} refused")
    if account.already_known:
        parts.append(f"{account.already_known} were known already and say the same")
    if account.changed_since:
        parts.append(f"{account.changed_since} say something else than before and were not taken")
    return f"{account.name}: " + ", ".join(parts)


def show_day(outcome: DayOutcome, *, brief: bool = False) -> None:
    """Print a day; ``brief`` leaves out agreeing samples and notes."""
    if outcome.demonstration:
        say("Demonstration, invented data")
    say(str(day_sentence(outcome.counts, outcome.findings)))
    say()
    profiles = {p.name: p for p in outcome.profiles}
    tubes = {
        str(sample): _tubes(part)
        for (sample,), part in outcome.readings.group_by("sample", maintain_order=True)
    }
    results = outcome.results
    if brief:
        results = results.filter((pl.col("status") != "preliminary") | (pl.col("kind") != 0))
    columns = [
        ("ticket", "left"), ("seconds", "right"), ("u [s]", "right"), ("LN", "right"),
        ("tubes [s]", "left"), ("spread / limit [s]", "right"), ("status", "left"),
    ]  # fmt: skip
    rows = results.iter_rows(named=True)
    table(columns, [_line(row, tubes.get(row["sample"], ""), profiles) for row in rows])
    say("* must be run again   x set aside with a cause")
    unstated = int((~outcome.results["tubes_stated"]).sum())
    if unstated:
        say(f"number of tubes not stated: {unstated} samples; no u is given for them")
    show_day_hold(outcome)
    if outcome.bins:
        say()
        _bins(outcome)
    if outcome.prices is not None:
        say()
        show_day_prices(outcome.prices, brief=brief)
    say()
    say(_account(outcome.sheet))
    if outcome.sample_sheet:
        say(_account(outcome.sample_sheet))
    names = ", ".join(p.name for p in outcome.profiles)
    say(f"profile {names}")
    show_day_own(outcome)
    show_findings(outcome.findings, notes=not brief)
    stops = sum(f.severity is Severity.STOP for f in outcome.findings)
    if stops:
        say()
        say("Boiling bath: steam and glass at 100 °C. Gloves, eye protection, lid on.")


def _bins(outcome: DayOutcome) -> None:
    rows = []
    for b in outcome.bins:
        sign = "" if b.kind is None else _SIGN[b.kind]
        seconds = DASH if b.seconds is None else f"{sign}{' ' if sign else ''}{number(b.seconds)}"
        rows.append(
            (b.bin_id, str(b.loads), number(b.tonnes_tested, 1), number(b.tonnes_untested, 1), seconds)
        )
    columns = [
        ("bin", "left"), ("loads", "right"), ("tested [t]", "right"), ("untested [t]", "right"),
        ("as if turned [s]", "right"),
    ]  # fmt: skip
    table(columns, rows)
