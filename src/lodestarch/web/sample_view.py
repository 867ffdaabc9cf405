"""What one sample's page shows, as values."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import polars as pl

from lodestarch.method.profile import Profile
from lodestarch.method.reading import Kind, State
from lodestarch.words.catalogues import term, terms
from lodestarch.words.drawing.svg import Drawing
from lodestarch.words.drawing.tubes import ResultMark, TubeMark, sample_tubes
from lodestarch.words.findings import FindingText, sentence
from lodestarch.words.numbers import DASH, by_suffix, figure, number, tidy
from lodestarch.words.register import by_sample, filtered, floor_of, ln_text, profile_of, reading_state
from lodestarch.words.result import (
    Reported,
    ResultLine,
    correction_words,
    phone_line,
    reported,
    result_line,
    seconds_text,
    tubes_words,
    u_text,
)
from lodestarch.words.times import day_text, when
from lodestarch.work.bench.outcome import DayOutcome

__all__ = ["ReadingLine", "SampleView", "sample_view"]

_Row = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class ReadingLine:
    """One reading in the table of a sample's page."""

    tube: str
    seconds: str
    state: str
    waits: bool
    mass: str
    wanted: str
    moisture: str
    pressure: str
    tube_id: str
    stirrer: str
    analyst: str
    at: str
    row: str


@dataclass(frozen=True, slots=True)
class SampleView:
    """Everything on one sample's page."""

    sample: str
    name: str
    outcome: str
    title: str
    line: ResultLine
    held: bool
    phone: str
    picture: Drawing
    readings: tuple[ReadingLine, ...]
    queries: tuple[FindingText, ...]
    facts: tuple[tuple[str, str], ...]
    sheet_facts: tuple[tuple[str, str], ...]
    as_read: tuple[tuple[str, tuple[str, ...]], ...]
    previous: tuple[str, str] | None
    following: tuple[str, str] | None


def _seconds(row: _Row) -> str:
    sign = {Kind.EXACT: "", Kind.AT_OR_BELOW: "≤\u00a0", Kind.ABOVE: ">\u00a0"}[Kind(row["kind"])]
    return sign + figure(row["seconds"], 1)


def _shown(key: str, value: float | None, unit: str) -> str:
    return DASH if value is None else f"{by_suffix(key, value)}\u00a0{unit}"


def _tube_name(row: _Row, *, several_runs: bool) -> str:
    if not row["position_stated"]:
        return term("drawing.not-stated")
    if several_runs:
        return term("drawing.run-tube", run=row["run"], position=row["position"])
    return term("drawing.tube", position=row["position"])


def _reading_line(row: _Row, *, several_runs: bool) -> ReadingLine:
    return ReadingLine(
        tube=_tube_name(row, several_runs=several_runs),
        seconds=_seconds(row),
        state=reading_state(row),
        waits=row["state"] == State.RUN_AGAIN.value,
        mass=_shown("mass_g", row["mass_g"], "g"),
        wanted=_shown("portion_g", row["portion_g"], "g"),
        moisture=_shown("moisture_pct", row["moisture_pct"], "%"),
        pressure=_shown("pressure_hpa", row["pressure_hpa"], "hPa"),
        tube_id=row["tube_id"] or DASH,
        stirrer=row["stirrer_id"] or DASH,
        analyst=row["analyst"] or DASH,
        at=DASH if row["run_at"] is None else when(row["run_at"]),
        row=DASH if row["row"] is None else str(row["row"]),
    )


def _picture(
    day: DayOutcome, row: _Row, readings: Sequence[_Row], result: Reported, *, several_runs: bool
) -> Drawing:
    marks = [
        TubeMark(
            _tube_name(r, several_runs=several_runs),
            r["seconds"],
            Kind(r["kind"]),
            State(r["state"]),
            _seconds(r),
        )
        for r in readings
    ]
    mark = None
    if result.status not in {"none", "held"} and result.seconds is not None:
        mark = ResultMark(result.seconds, result.kind, result.u_s, seconds_text(result))
    return sample_tubes(
        result.name,
        marks,
        mark,
        day.limits,
        floor_s=floor_of(day),
        mean_s=row["mean_s"],
        spread_s=row["spread_s"],
        limit_s=row["limit_s"],
        tubes_stated=result.tubes_stated,
    )


def _how(row: _Row, result: Reported) -> str:
    if not result.tubes_stated:
        return term("fact.how-unstated")
    if row["how"] in {"mean", "median"}:
        words = tubes_words(result.tubes, stated=result.tubes_stated)
        return term(f"fact.how-{row['how']}", tubes=words)
    return term("fact.how-single") if row["how"] == "single" else term("status.none")


def _spread(row: _Row) -> str:
    if row["spread_s"] is None or row["limit_s"] is None:
        return term("fact.spread-none")
    agreement = term(f"agreement.{row['agreement'].replace(' ', '-')}")
    apart = {"spread": figure(row["spread_s"], 1), "limit": figure(row["limit_s"], 1)}
    return tidy(term("fact.spread-value", agreement=agreement, **apart))


def _profile_words(profile: Profile | None, name: str | None) -> str:
    return f"{profile.name}, {profile.title}" if profile else str(name or DASH)


def _facts(day: DayOutcome, row: _Row, result: Reported, profile: Profile | None) -> list[tuple[str, str]]:
    held = result.status == "held"
    u = term("fact.u-none")
    if result.u_s is not None and not held:
        # Readings that disagreed: u is then no smaller than their own scatter gives (method.judge).
        name = "fact.u-own" if row["how"] == "median" else "fact.u-value"
        u = tidy(term(name, u=u_text(result.u_s), note=day.scatter.note))
    facts = [
        ("result", _how(row, result)),
        ("u", u),
        ("ln", DASH if held else ln_text(row)),
        ("spread", _spread(row)),
        ("profile", _profile_words(profile, row["profile"])),
        ("moisture", _shown("moisture_pct", row["moisture_pct"], "%")),
        ("pressure", _shown("pressure_hpa", row["pressure_hpa"], "hPa")),
        ("correction", correction_words(row["correction"])),
        ("comparable", row["comparable_key"] or DASH),
    ]
    # Only where it differs from the mean: with a censored tube among the readings.
    if row["estimate_s"] is not None and row["kind"] != Kind.EXACT.value:
        u_s = row["estimate_u_s"]
        said = number(row["estimate_s"]) + ("" if u_s is None else f", u {u_text(u_s)}")
        facts.append(("estimate", tidy(f"{said} s")))
    return [(term(f"fact.{key}"), said) for key, said in facts]


_SHEET_KEYS: Final = (
    "kind", "material", "variety", "grower", "origin", "harvest_date", "tonnes", "bin", "received_at",
    "ground_mass_g", "mill_id", "ground_at", "moisture_method", "moisture_on", "moisture_at",
)  # fmt: skip


def _sheet_facts(day: DayOutcome, sample: str) -> list[tuple[str, str]]:
    found = day.samples.filter(pl.col("sample") == sample)
    if found.is_empty():
        return []
    row = found.row(0, named=True)
    facts = []
    for key in _SHEET_KEYS:
        value = row[key]
        if value is None:
            continue
        if key.endswith("_at"):
            said = when(value)
        elif key == "harvest_date":
            said = day_text(value)
        elif key == "tonnes":
            said = f"{figure(value, 2)}\u00a0t"
        elif key == "ground_mass_g":
            said = f"{figure(value, 1)}\u00a0g"
        else:
            said = terms().get(f"{key}.{value}", str(value))
        facts.append((term(f"field.{key}"), said))
    return facts


def _as_read(readings: Sequence[_Row]) -> list[tuple[str, tuple[str, ...]]]:
    return [
        (DASH if r["row"] is None else str(r["row"]), tuple(x for x in r["row_text"].split("\x1f") if x))
        for r in readings
        if r["row_text"]
    ]


def _neighbours(day: DayOutcome, sample: str) -> tuple[tuple[str, str] | None, tuple[str, str] | None]:
    names = day.results.select(pl.col("sample"), pl.coalesce("ticket", "sample").alias("name")).rows()
    at = next(i for i, (s, _) in enumerate(names) if s == sample)
    before = names[at - 1] if at > 0 else None
    after = names[at + 1] if at + 1 < len(names) else None
    return before, after


def sample_view(day: DayOutcome, sample: str) -> SampleView | None:
    """Make one sample's page; ``None`` where the day has no such sample."""
    rows = filtered(day).filter(pl.col("sample") == sample)
    if rows.is_empty():
        return None
    row = rows.row(0, named=True)
    profile = profile_of(day, row["profile"])
    result = reported(row, profile)
    readings = list(day.readings.filter(pl.col("sample") == sample).iter_rows(named=True))
    before, after = _neighbours(day, sample)
    several = len({r["run"] for r in readings}) > 1
    return SampleView(
        sample=sample,
        name=result.name,
        outcome=row["outcome"],
        title=term(f"sample.{row['outcome']}", name=result.name),
        line=result_line(result),
        held=result.status in {"held", "none"},
        phone=phone_line(result, day.limits),
        picture=_picture(day, row, readings, result, several_runs=several),
        readings=tuple(_reading_line(r, several_runs=several) for r in readings),
        queries=tuple(sentence(f) for f in by_sample(day.findings).get(sample, ())),
        facts=tuple(_facts(day, row, result, profile)),
        sheet_facts=tuple(_sheet_facts(day, sample)),
        as_read=tuple(_as_read(readings)),
        previous=before,
        following=after,
    )
