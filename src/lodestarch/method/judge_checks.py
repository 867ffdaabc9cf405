"""What a person should look at before a judged table is relied on: checks and their findings."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import product
from typing import Final

import numpy as np
import numpy.typing as npt
import polars as pl

from lodestarch.common.arrays import FloatArray
from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.common.nomenclature import legal_range
from lodestarch.method.bath import pressure_findings
from lodestarch.method.correction import corrected_s, correction_of
from lodestarch.method.judge import DISAGREES, GroupResults, Status
from lodestarch.method.judge_columns import Columns, where_of
from lodestarch.method.plausible import FINE, IMPOSSIBLE_CODES
from lodestarch.method.portion import portion_mass_g
from lodestarch.method.profile import Profile
from lodestarch.method.reading import Kind

__all__ = [
    "CODES",
    "GroupCorrections",
    "PortionCheck",
    "correction_of_groups",
    "portion_check",
    "reading_findings",
    "sample_findings",
    "table_findings",
]

CODES: Final = {
    "reading-negative": ("seconds",),
    "reading-below-stirring": ("seconds", "stirring_s"),
    "reading-too-long": ("seconds", "longest_s"),
    "reading-tenfold": ("seconds", "partner_s"),
    "bound-above-floor": ("seconds", "floor_s"),
    "mass-off-portion": ("mass_g", "portion_g", "low_g", "high_g", "moisture_pct"),
    "portion-as-is": ("base_mass_g", "portion_g", "moisture_pct"),
    "moisture-missing": ("profile",),
    "moisture-above-method": ("moisture_pct", "low_pct", "high_pct", "profile"),
    "moisture-below-method": ("moisture_pct", "low_pct", "high_pct", "profile"),
    "pair-disagrees": ("readings", "spread_s", "limit_s", "next"),
    "still-disagrees": ("readings", "spread_s", "limit_s", "median_s"),
    "third-tube-not-profile": ("profile",),
    "pair-incomplete": ("tubes", "needed"),
    "no-standing-reading": (),
    "one-tube": ("needed",),
    "at-floor": ("floor_s",),
    "stopped-early": ("seconds",),
    "set-aside": ("seconds", "cause"),
    "correction-mixed": (),
    "correction-no-pressure": ("form",),
    "correction-not-stated": ("form",),
    "profile-unknown": ("profiles",),
    "profiles-mixed": ("profiles",),
    "tubes-not-stated": ("samples",),
    "portions-not-stated": ("readings",),
    "pressure-not-stated": ("readings",),
    "pressure-spread-in-run": ("low_hpa", "high_hpa"),
}
"""Codes that judging emits, with the keys of their values; those of ``bath`` come on top."""

_BASE_BAND_G: Final = 0.005
"""A mass typed as the base mass to the balance's resolution was weighed as is [g]."""


@dataclass(frozen=True, slots=True)
class PortionCheck:
    """Masses beside what the profile wants, by reading; by group whether all were weighed as is."""

    wanted_g: FloatArray
    off: npt.NDArray[np.bool_]
    as_is: npt.NDArray[np.bool_]
    outside: npt.NDArray[np.int8]
    """1 above the moistures that the profile covers, -1 below, 0 inside or not stated."""


@dataclass(frozen=True, slots=True)
class GroupCorrections:
    """Seconds after the profile's own correction, and by group what was done."""

    seconds: FloatArray
    names: npt.NDArray[np.object_]
    by_instrument: npt.NDArray[np.int8]
    """1 where every reading was corrected by the instrument, 0 where none was, -1 where that is not known."""
    unknown: npt.NDArray[np.bool_]
    """The profile has a correction, and nobody says whether the instrument has made one already."""


def portion_check(cols: Columns, profile: Profile) -> PortionCheck:
    """Compare the masses weighed with the portion for the moisture."""
    c = profile.constants
    low, high = c.moisture_min_pct, c.moisture_max_pct
    if c.portion_rule == "table" and c.portion_table:
        low, high = max(low, c.portion_table[0][0]), min(high, c.portion_table[-1][0])
    stated = ~np.isnan(cols.moisture_pct)
    as_is_rule = c.portion_rule == "as-is"
    outside = np.where(cols.moisture_pct > high, 1, np.where(cols.moisture_pct < low, -1, 0)).astype(np.int8)
    covered = stated & (outside == 0)
    wanted = np.full(cols.n, c.base_mass_g if as_is_rule else np.nan)
    if covered.any() and not as_is_rule:
        wanted[covered] = portion_mass_g(cols.moisture_pct[covered], c)
    with np.errstate(invalid="ignore"):
        off = np.abs(cols.mass_g - wanted) > c.mass_tolerance_g + 1e-9
        at_base = np.abs(cols.mass_g - c.base_mass_g) <= _BASE_BAND_G
    # What was set aside says nothing about how the readings that count were weighed.
    as_is = cols.group_all(at_base | cols.aside) & cols.group_any(off & ~cols.aside)
    return PortionCheck(wanted, off, as_is, outside)


def correction_of_groups(cols: Columns, profile: Profile) -> GroupCorrections:
    """Apply the profile's correction where it has one, the instrument has not, and the pressure is known."""
    names = np.full(cols.groups, "none", dtype=object)
    live = ~cols.aside
    yes = cols.group_any((cols.instrument == 1) & live)
    no = cols.group_any((cols.instrument == 0) & live)
    unsaid = cols.group_any((cols.instrument == -1) & live) | ~(yes | no)
    names[~yes & ~no] = "not stated"
    names[yes] = "by instrument"
    names[yes & (no | unsaid)] = "mixed"
    by_instrument = np.where(unsaid | (yes & no), -1, np.where(yes, 1, 0)).astype(np.int8)
    form = profile.constants.correction_form
    if form == "none":
        return GroupCorrections(cols.seconds, names, by_instrument, np.zeros(cols.groups, dtype=np.bool_))
    correction = correction_of(profile)
    free, unknown = ~yes & ~unsaid, ~yes & unsaid
    names[unknown] = "not stated"
    # A pressure that cannot be one (inches typed as hPa) corrects nothing; it has its own finding.
    low, high = legal_range("pressure_hpa")
    blind = cols.group_any(~((cols.pressure_hpa >= low) & (cols.pressure_hpa <= high)) & live)
    names[free & blind] = "no pressure"
    names[free & ~blind] = f"{form}, {profile.name}"
    apply = live & (free & ~blind)[cols.group] & (cols.kind != Kind.AT_OR_BELOW)
    apply &= cols.seconds > profile.constants.floor_s
    seconds = cols.seconds.copy()
    seconds[apply] = corrected_s(cols.seconds[apply], cols.pressure_hpa[apply], correction)
    return GroupCorrections(seconds, names, by_instrument, unknown)


def reading_findings(
    part: pl.DataFrame,
    cols: Columns,
    klass: npt.NDArray[np.int8],
    wrong_mass: npt.NDArray[np.bool_],
    odd_bound: npt.NDArray[np.bool_],
    partner_s: FloatArray,
    portions: PortionCheck,
    profile: Profile,
) -> list[Finding]:
    """Findings on single tubes: impossible readings, masses off the portion, readings set aside."""
    c = profile.constants
    found = []
    # One set aside with its cause has been settled already.
    for i in np.flatnonzero((klass != FINE) & ~cols.aside):
        values: dict[str, Value] = {
            "seconds": _finite(cols.seconds[i]),
            "stirring_s": c.stirring_s,
            "longest_s": c.longest_reading_s,
            "partner_s": None if np.isnan(partner_s[i]) else float(partner_s[i]),
        }
        where = where_of(part, int(i), "seconds")
        found.append(Finding(IMPOSSIBLE_CODES[int(klass[i])], where, Severity.STOP, values))
    for i in np.flatnonzero(odd_bound):
        values = {"seconds": float(cols.seconds[i]), "floor_s": c.floor_s}
        found.append(Finding("bound-above-floor", where_of(part, int(i), "seconds"), Severity.STOP, values))
    for i in np.flatnonzero(wrong_mass):
        wanted = float(portions.wanted_g[i])
        values = {
            "mass_g": float(cols.mass_g[i]),
            "portion_g": wanted,
            "low_g": wanted - c.mass_tolerance_g,
            "high_g": wanted + c.mass_tolerance_g,
            "moisture_pct": float(cols.moisture_pct[i]),
        }
        where = where_of(part, int(i), "mass_g")
        found.append(Finding("mass-off-portion", where, Severity.STOP, values))
    for i in np.flatnonzero(cols.aside):
        values = {"seconds": float(cols.seconds[i]), "cause": str(cols.cause[i])}
        found.append(Finding("set-aside", where_of(part, int(i)), Severity.NOTE, values))
    return found


def _readings_text(cols: Columns, rows: npt.NDArray[np.int64]) -> str:
    marks = {Kind.EXACT: "", Kind.AT_OR_BELOW: "≤ ", Kind.ABOVE: "> "}
    return ", ".join(f"{marks[Kind(int(cols.kind[i]))]}{cols.seconds[i]:g}" for i in rows)


def sample_findings(
    part: pl.DataFrame,
    cols: Columns,
    res: GroupResults,
    status: npt.NDArray[np.str_],
    unstated: npt.NDArray[np.bool_],
    again: npt.NDArray[np.int64],
    portions: PortionCheck,
    corrections: GroupCorrections,
    profile: Profile,
) -> list[Finding]:
    """Findings on whole samples: agreement, number of tubes, moisture, correction."""
    c = profile.constants
    found: list[Finding] = []
    by_group, ends = np.argsort(cols.group, kind="stable"), np.cumsum(cols.rows)

    def add(mask: npt.NDArray[np.bool_], code: str, severity: Severity, field: str | None = None) -> None:
        for g in np.flatnonzero(mask):
            where = where_of(part, int(cols.first[g]), field, tube=False)
            found.append(Finding(code, where, severity, _values(code, int(g), int(cols.first[g]))))

    def add_at(
        flags: npt.NDArray[np.bool_], code: str, field: str, severity: Severity = Severity.CHECK
    ) -> None:
        """One finding a sample, at the first of its readings with the flag."""
        at = np.flatnonzero(flags)
        for g, first in zip(*np.unique(cols.group[at], return_index=True), strict=True):
            i = int(at[first])
            where = where_of(part, i, field, tube=False)
            found.append(Finding(code, where, severity, _values(code, int(g), i)))

    def _values(code: str, g: int, i: int) -> dict[str, Value]:
        moisture = cols.moisture_pct[i]
        every: dict[str, Value] = {
            "profile": profile.name,
            "needed": int(c.tubes),
            "tubes": int(res.tubes[g]),
            "next": c.on_disagreement,
            "floor_s": c.floor_s,
            "form": c.correction_form,
            "base_mass_g": c.base_mass_g,
            "low_pct": c.moisture_min_pct,
            "high_pct": c.moisture_max_pct,
            "moisture_pct": None if np.isnan(moisture) else float(moisture),
            "portion_g": _finite(portions.wanted_g[i]),
            "seconds": _finite(res.seconds[g]),
            "median_s": _finite(res.seconds[g]),
            "spread_s": _finite(res.spread_s[g]),
            "limit_s": _finite(res.limit_s[g]),
        }
        if "readings" in CODES[code]:
            rows = by_group[ends[g] - cols.rows[g] : ends[g]]
            every["readings"] = _readings_text(cols, rows[res.counted[rows]])
        return {key: every[key] for key in CODES[code]}

    held, disagrees = status == Status.HELD.value, res.agreement == DISAGREES
    enough = res.tubes >= c.tubes
    add((res.status == Status.HELD.value) & enough, "pair-disagrees", Severity.STOP)
    add(disagrees & res.median_used & ~held, "still-disagrees", Severity.CHECK)
    # A tube that must be run again has a finding that says what to do; one set aside has only a cause.
    add(held & ~enough & (res.tubes > 0) & (again == 0), "pair-incomplete", Severity.CHECK)
    add((res.tubes == 0) & (again == 0), "no-standing-reading", Severity.CHECK)
    add((status == Status.SCREEN.value) & ~unstated, "one-tube", Severity.NOTE)
    third = (res.tubes == c.tubes + 1) & (c.on_disagreement == "fresh-pair") & (cols.rows == c.tubes + 1)
    add(third, "third-tube-not-profile", Severity.CHECK)
    add((res.kind == Kind.AT_OR_BELOW) & ~held & (res.tubes > 0), "at-floor", Severity.NOTE)
    add((res.kind == Kind.ABOVE) & ~held & (res.tubes > 0), "stopped-early", Severity.NOTE)
    lacking, live = np.isnan(cols.moisture_pct), ~cols.aside
    # Where a whole day has neither moisture nor mass, the table says so once.
    if c.portion_rule != "as-is" and not (lacking & np.isnan(cols.mass_g)).all():
        add_at(lacking & live, "moisture-missing", "moisture_pct")
    grave = Severity.CHECK if c.portion_rule == "as-is" else Severity.STOP
    add_at((portions.outside == 1) & live, "moisture-above-method", "moisture_pct", grave)
    add_at((portions.outside == -1) & live, "moisture-below-method", "moisture_pct", grave)
    add_at(portions.as_is[cols.group] & portions.off & live, "portion-as-is", "mass_g")
    add(corrections.names == "mixed", "correction-mixed", Severity.STOP, "corrected_by_instrument")
    add(corrections.unknown, "correction-not-stated", Severity.STOP, "corrected_by_instrument")
    add(corrections.names == "no pressure", "correction-no-pressure", Severity.CHECK, "pressure_hpa")
    return found


def _finite(value: float) -> float | None:
    return None if np.isnan(value) else float(value)


def table_findings(
    judged: pl.DataFrame, elevation_m: float | None, *, pressure_is_station: bool
) -> list[Finding]:
    """Findings on the table as a whole, so that one cause is told once and not on every row."""
    found: list[Finding] = []
    n = judged.height
    alone = judged.filter(pl.len().over("sample") == 1).filter(~pl.col("position_stated"))
    if alone.height:
        where = Where(row=alone["row"][0], field="position")
        found.append(Finding("tubes-not-stated", where, Severity.NOTE, {"samples": alone.height}))
    for field, code in (("mass_g", "portions-not-stated"), ("pressure_hpa", "pressure-not-stated")):
        if judged[field].null_count() == n and (
            field != "mass_g" or judged["moisture_pct"].null_count() == n
        ):
            where = Where(row=judged["row"][0], field=field)
            found.append(Finding(code, where, Severity.NOTE, {"readings": n}))
    runs = (
        judged.filter(pl.col("pressure_hpa").is_not_null())
        .group_by("run", "bath", maintain_order=True)
        .agg(
            pl.col("pressure_hpa").min().alias("low"),
            pl.col("pressure_hpa").max().alias("high"),
            pl.col("row").min(),
        )
    )
    for run, _bath, low, high, row in runs.filter(pl.col("high") - pl.col("low") > 1.0).iter_rows():
        spread: dict[str, Value] = {"low_hpa": low, "high_hpa": high}
        where = Where(row=row, field="pressure_hpa", run=run)
        found.append(Finding("pressure-spread-in-run", where, Severity.CHECK, spread))
    which_asked = False
    for (high,), same in runs.group_by("high", maintain_order=True):
        looked = pressure_findings(high, elevation_m, Where(), known_station=pressure_is_station)
        for finding, (run, row) in product(looked, same.select("run", "row").iter_rows()):
            # Which pressure a barometer shows is one question a day, not one a run.
            if finding.code == "pressure-which" and which_asked:
                continue
            which_asked = which_asked or finding.code == "pressure-which"
            found.append(replace(finding, where=Where(row=row, field="pressure_hpa", run=run)))
    return found
