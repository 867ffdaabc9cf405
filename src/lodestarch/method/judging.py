"""A table of readings judged under its profiles: states, results, findings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import polars as pl

from lodestarch.common.arrays import FloatArray
from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.method.estimate import estimate_level
from lodestarch.method.judge import AGREES, DISAGREES, GroupResults, Status, judge_groups
from lodestarch.method.judge_checks import (
    GroupCorrections,
    correction_of_groups,
    portion_check,
    reading_findings,
    sample_findings,
    table_findings,
)
from lodestarch.method.judge_columns import Columns, columns_of
from lodestarch.method.liquefaction import ln_from_fn
from lodestarch.method.plausible import IMPOSSIBLE_CODES, bound_above_floor, impossible
from lodestarch.method.profile import Profile
from lodestarch.method.reading import Kind, Seconds, State
from lodestarch.method.scatter import ScatterLaw
from lodestarch.method.table import JUDGED, RESULTS, conform, empty

__all__ = ["Judged", "judge"]

_FLAG = {1: True, 0: False}
_AGREEMENT = {AGREES: "agrees", DISAGREES: "disagrees"}


@dataclass(frozen=True, slots=True)
class Judged:
    """Readings with their states, one result a sample, and what a person should look at."""

    readings: pl.DataFrame
    results: pl.DataFrame
    findings: tuple[Finding, ...]


def judge(
    readings: pl.DataFrame,
    profiles: Mapping[str, Profile],
    default: Profile,
    scatter: ScatterLaw,
    *,
    elevation_m: float | None = None,
    pressure_is_station: bool = False,
    laws: Mapping[str, ScatterLaw] | None = None,
) -> Judged:
    """Judge a table of readings.

    Parameters
    ----------
    readings : polars.DataFrame
        In ``table.READINGS``.
    profiles : mapping of str to Profile
        By every name a sheet may use: ``id`` (the version in force) and ``id@version``.
    default : Profile
        For rows that name none.
    scatter : ScatterLaw
        Law of one tube's SD, for profiles that ``laws`` does not name.
    elevation_m : float or None
        Of the lab, to tell a pressure reduced to sea level. [m]
    pressure_is_station : bool
        Somebody has said that the pressures are station pressures.
    laws : mapping of str to ScatterLaw, optional
        By ``Profile.name``: pairs of one method say nothing of another's scatter.

    Returns
    -------
    Judged
        ``readings`` in ``table.JUDGED``, in the order given; ``results`` in ``table.RESULTS``, in order of
        each sample's first row.
    """
    named = readings.with_row_index("_at").with_columns(pl.col("profile").fill_null(default.name))
    known = {default.name: default, default.profile_id: default, **profiles}
    resolved = named["profile"].replace_strict(
        {k: p.name for k, p in known.items()}, default=None, return_dtype=pl.String()
    )
    named = named.with_columns(resolved.alias("_profile"))
    per_sample = named.group_by("sample", maintain_order=True).agg(
        pl.col("_profile").n_unique().alias("_n"), pl.col("_profile").is_null().any().alias("_unknown")
    )
    bad = per_sample.filter((pl.col("_n") > 1) | pl.col("_unknown"))["sample"]
    parts: list[Judged] = []
    places: list[pl.Series] = []
    if bad.len():
        mixed = named.filter(pl.col("sample").is_in(bad.implode()))
        places.append(mixed["_at"])
        parts.append(_not_judged(mixed.drop("_at")))
        named = named.filter(~pl.col("sample").is_in(bad.implode()))
    for (name,), part in named.group_by("_profile", maintain_order=True):
        profile = next(p for p in known.values() if p.name == name)
        places.append(part["_at"])
        law = scatter if laws is None else laws.get(profile.name, scatter)
        parts.append(_judge_one(part.drop("_at"), profile, law))
    if not parts:
        return Judged(empty(JUDGED), empty(RESULTS), ())
    judged = pl.concat([p.readings for p in parts])[pl.concat(places).arg_sort()]
    results = pl.concat([p.results for p in parts]).sort("first_row", maintain_order=True)
    found = [f for p in parts for f in p.findings]
    found.extend(table_findings(judged, elevation_m, pressure_is_station=pressure_is_station))
    return Judged(judged, results, tuple(found))


def _not_judged(part: pl.DataFrame) -> Judged:
    """Samples under an unknown profile, or under two: kept, not mixed, no result."""
    found = []
    for (sample,), rows in part.group_by("sample", maintain_order=True):
        first = rows.row(0, named=True)
        unknown = rows.filter(pl.col("_profile").is_null())
        code = "profile-unknown" if unknown.height else "profiles-mixed"
        where = Where(
            row=int((unknown if unknown.height else rows)["row"][0]),
            field="profile",
            ticket=first["ticket"],
            sample=str(sample),
        )
        names = ", ".join(sorted({str(x) for x in (unknown if unknown.height else rows)["profile"]}))
        found.append(Finding(code, where, Severity.STOP, {"profiles": names}))
    aside = pl.col("set_aside_cause").is_not_null()
    unknown_profile = pl.col("_profile").is_null().any().over("sample")
    codes = pl.when(unknown_profile).then(pl.lit("profile-unknown")).otherwise(pl.lit("profiles-mixed"))
    judged = part.with_columns(
        pl.when(aside)
        .then(pl.lit(State.SET_ASIDE.value))
        .otherwise(pl.lit(State.RUN_AGAIN.value))
        .alias("state"),
        pl.when(aside).then(pl.col("set_aside_cause")).otherwise(codes).alias("state_code"),
    ).drop("_profile")
    results = part.group_by("sample", maintain_order=True).agg(
        pl.col("ticket").first(),
        pl.col("profile").first(),
        pl.lit(Status.HELD.value).alias("status"),
        pl.lit(0).alias("tubes"),
        aside.sum().alias("set_aside"),
        (~aside).sum().alias("run_again"),
        pl.lit(value=True).alias("tubes_stated"),
        pl.lit("not judged").alias("agreement"),
        pl.col("row").min().alias("first_row"),
        pl.lit("not comparable").alias("comparable_key"),
    )
    return Judged(conform(judged, JUDGED), conform(results, RESULTS), tuple(found))


def _judge_one(part: pl.DataFrame, profile: Profile, scatter: ScatterLaw) -> Judged:
    c = profile.constants
    cols = columns_of(part)
    partner = _possible_median(cols, c.stirring_s, c.longest_reading_s)
    klass = impossible(
        cols.seconds, cols.kind, partner, stirring_s=c.stirring_s, longest_s=c.longest_reading_s
    )
    portions = portion_check(cols, profile)
    correction = correction_of_groups(cols, profile)

    state = np.full(cols.n, State.STANDS, dtype=np.int8)
    code = np.full(cols.n, None, dtype=object)
    wrong = portions.off & ~portions.as_is[cols.group]
    state[wrong], code[wrong] = State.RUN_AGAIN, "mass-off-portion"
    for value, name in IMPOSSIBLE_CODES.items():
        state[klass == value], code[klass == value] = State.RUN_AGAIN, name
    odd = bound_above_floor(cols.seconds, cols.kind, floor_s=c.floor_s)
    state[odd], code[odd] = State.RUN_AGAIN, "bound-above-floor"
    aside = cols.aside
    state[aside], code[aside] = State.SET_ASIDE, cols.cause[aside]

    res = judge_groups(
        cols.group, correction.seconds, cols.kind, state == State.STANDS, c, scatter,
        groups=cols.groups, run_order=cols.run_order,
    )  # fmt: skip
    left = (state == State.STANDS) & ~res.counted
    state[left], code[left] = State.SET_ASIDE, "left-out-by-rule"
    disagree = (res.status == Status.HELD.value)[cols.group] & (state == State.STANDS)
    state[disagree], code[disagree] = State.RUN_AGAIN, "pair-disagrees"
    again = np.bincount(cols.group, weights=state == State.RUN_AGAIN, minlength=cols.groups).astype(np.int64)
    set_aside = np.bincount(cols.group, weights=state == State.SET_ASIDE, minlength=cols.groups).astype(
        np.int64
    )
    status = res.status.copy()
    # Readings corrected and uncorrected make no result, however well they agree.
    unsure = (correction.names == "mixed") | correction.unknown
    # A moisture that the method does not cover has no portion, so nothing says that this one was right.
    uncovered = cols.group_any((portions.outside != 0) & ~aside) & (c.portion_rule != "as-is")
    status[(unsure | uncovered) & (res.tubes > 0)] = Status.HELD.value
    # A tube that fell out leaves a pair to be completed, which is not a screen of one tube by choice.
    status[(status == Status.SCREEN.value) & (again + set_aside > 0)] = Status.HELD.value
    unstated = (cols.rows == 1) & ~cols.position_stated[cols.first]
    status[unstated & (status == Status.SCREEN.value)] = Status.PRELIMINARY.value

    standing = Standing(cols, correction.seconds, res.counted, c.floor_s, scatter)
    results = _results(part, standing, profile, res, status, again, set_aside, ~unstated, portions.as_is,
                       correction)  # fmt: skip
    found = [
        *reading_findings(part, cols, klass, wrong & ~aside, odd & ~aside, partner, portions, profile),
        *sample_findings(part, cols, res, status, unstated, again, portions, correction, profile),
    ]
    judged = part.with_columns(
        pl.Series("state", state),
        pl.Series("state_code", code.tolist(), dtype=pl.String()),
        pl.Series("portion_g", portions.wanted_g).fill_nan(None),
    ).drop("_profile")
    return Judged(conform(judged, JUDGED), results, tuple(found))


def _possible_median(cols: Columns, stirring_s: float, longest_s: float) -> FloatArray:
    """Median of the possible readings of each reading's sample; NaN where there is none."""
    fine = (cols.seconds >= stirring_s) & (cols.seconds <= longest_s)
    frame = pl.DataFrame({"g": cols.group, "s": np.where(fine, cols.seconds, np.nan)})
    median = frame.select(pl.col("s").fill_nan(None).median().over("g")).to_series()
    return np.asarray(median.fill_null(np.nan).to_numpy(), dtype=np.float64)


def _results(
    part: pl.DataFrame,
    standing: Standing,
    profile: Profile,
    res: GroupResults,
    status: npt.NDArray[np.str_],
    again: npt.NDArray[np.int64],
    set_aside: npt.NDArray[np.int64],
    stated: npt.NDArray[np.bool_],
    as_is: npt.NDArray[np.bool_],
    corrections: GroupCorrections,
) -> pl.DataFrame:
    cols = standing.cols
    exact = res.kind == Kind.EXACT
    u = np.where(stated, res.u_s, np.nan)
    value = np.where(np.isnan(res.mean_s), 300.0, res.mean_s)
    ln = np.where(np.isnan(res.mean_s), np.nan, ln_from_fn(np.maximum(value, 51.0)))
    below, above = res.kind == Kind.AT_OR_BELOW, res.kind == Kind.ABOVE
    # Readings that disagree do not point to one level: a held sample has no estimate.
    given = status != Status.HELD.value
    estimate, estimate_u = (np.where(exact & given, x, np.nan) for x in (res.mean_s, u))
    for index, (level, level_u) in _mixed_estimates(standing, res, given).items():
        estimate[index], estimate_u[index] = level, level_u
    firsts = part[cols.first.tolist()]
    frame = pl.DataFrame(
        {
            "sample": firsts["sample"],
            "ticket": firsts["ticket"],
            "profile": [profile.name] * cols.groups,
            "status": status.astype(str),
            "kind": res.kind,
            "seconds": res.seconds,
            "mean_s": res.mean_s,
            "how": np.select(
                [res.tubes == 0, res.median_used, res.tubes > 1], ["none", "median", "mean"], default="single"
            ),
            "tubes": res.tubes,
            "set_aside": set_aside,
            "run_again": again,
            "tubes_stated": stated,
            "spread_s": res.spread_s,
            "limit_s": res.limit_s,
            "agreement": pl.Series(res.agreement).replace_strict(
                _AGREEMENT, default="not judged", return_dtype=pl.String()
            ),
            "u_s": u,
            "ln": np.where(exact, ln, np.nan),
            "ln_low": np.where(above, 0.0, ln),
            "ln_high": np.where(below, np.nan, ln),
            "estimate_s": estimate,
            "estimate_u_s": estimate_u,
            "moisture_pct": cols.group_mean(cols.moisture_pct),
            "pressure_hpa": cols.group_mean(cols.pressure_hpa),
            "corrected_by_instrument": pl.Series(corrections.by_instrument).replace_strict(
                _FLAG, default=None, return_dtype=pl.Boolean()
            ),
            "correction": corrections.names.astype(str),
            "comparable_key": np.where(as_is, profile.as_is_key, profile.comparable_key),
            "first_row": firsts["row"],
        }
    )
    numbers = [n for n, t in frame.schema.items() if t == pl.Float64()]
    return conform(frame.with_columns(pl.col(numbers).fill_nan(None)), RESULTS)


@dataclass(frozen=True, slots=True)
class Standing:
    """Which readings entered the results, in seconds after correction, and the law of their scatter."""

    cols: Columns
    seconds: FloatArray
    counted: npt.NDArray[np.bool_]
    floor_s: float
    scatter: ScatterLaw


def _mixed_estimates(
    standing: Standing, res: GroupResults, given: npt.NDArray[np.bool_]
) -> dict[int, tuple[float, float]]:
    """Likelihood estimates of the samples that mix exact with censored readings (few in any day)."""
    cols = standing.cols
    mixed = np.flatnonzero((res.kind != Kind.EXACT) & (res.tubes > 1) & given)
    members: dict[int, list[Seconds]] = {int(i): [] for i in mixed}
    for i in np.flatnonzero(np.isin(cols.group, mixed) & standing.counted):
        seconds, kind = float(standing.seconds[i]), Kind(int(cols.kind[i]))
        if kind is Kind.EXACT and seconds <= standing.floor_s:
            seconds, kind = standing.floor_s, Kind.AT_OR_BELOW
        members[int(cols.group[i])].append(Seconds(seconds, kind))
    out = {}
    for index, readings in members.items():
        estimate = estimate_level(readings, standing.scatter)
        if estimate.level_s is not None:
            out[index] = (estimate.level_s, np.nan if estimate.u_s is None else estimate.u_s)
    return out
