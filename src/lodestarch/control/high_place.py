"""A position, tube or stirrer that runs high or low through the day, or drifts.

Each reading is held against its partner: the other tube of the same sample in the same run. Sample, grind,
meal, bath and hour fall out of the difference; what stays is scatter, and whatever belongs to the place.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import polars as pl

from lodestarch.common.arrays import FloatArray
from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.control.signed_rank import rank_trend_p, signed_rank_p
from lodestarch.method.reading import Kind
from lodestarch.method.scatter import ScatterLaw

__all__ = ["FALSE_ALARM", "LEAST_EFFECT_SD", "LEAST_PAIRS", "high_places"]

LEAST_PAIRS: Final = 10
"""Pairs that a place needs before it is looked at [1]. A setting of ours: with fewer, even differences that
all lie on one side are not rare enough once several places are looked at."""

FALSE_ALARM: Final = 0.01
"""Chance that a sheet of a bench without any such fault gives one finding or more [1]. A setting of ours; the
p of each place is multiplied by the number of tests made (Bonferroni)."""

LEAST_EFFECT_SD: Final = 0.5
"""Least difference worth a finding, in SDs of one tube's scatter [1]. A setting of ours: with thousands of
pairs a second is significant and means nothing."""

_COLUMN: Final = {"position": "position", "stirrer": "stirrer_id", "tube": "tube_id"}
_Index = npt.NDArray[np.intp]


@dataclass(slots=True)
class _Entries:
    """Every reading of a pair at every place it had: two tubes times up to three kinds of place."""

    place: _Index
    pair: _Index
    sign: FloatArray  # +1 for the first tube of the pair, -1 for the second
    partner: _Index  # the place of the same kind of the other tube; -1 where not stated
    row: _Index
    names: list[tuple[str, str]]  # kind and name by place

    def at(self, place: int) -> _Index:
        return np.flatnonzero(self.place == place)


def _names(pairs: pl.DataFrame, kind: str, tube: int) -> pl.Series:
    """Name of the place of one tube of each pair; null where it is not stated."""
    own = pl.col(f"{_COLUMN[kind]}_{tube}")
    if kind == "position":
        named = pl.concat_str(pl.col("bath").fill_null(""), own, separator=" ").str.strip_chars()
        own = pl.when(pl.col("positions_stated")).then(named)
    return pairs.select(own.alias("name")).to_series()


def _entries_of_kind(pairs: pl.DataFrame, kind: str, start: int) -> _Entries:
    """Readings at the places of one kind that have enough pairs, numbered from ``start``."""
    n = pairs.height
    both = pl.concat([_names(pairs, kind, 1), _names(pairs, kind, 2)], rechunk=True)
    codes = both.cast(pl.Categorical).to_physical().cast(pl.Int64).fill_null(-1)
    number = codes.to_numpy().astype(np.intp)
    partner = np.r_[number[n:], number[:n]]
    # A place at both ends of a pair, as one stirrer used for both tubes, says nothing of itself.
    usable = (number >= 0) & (number != partner)
    counts = np.bincount(number[usable], minlength=max(int(number.max(initial=-1)) + 1, 1))
    many = np.flatnonzero(counts >= LEAST_PAIRS)
    _, first = np.unique(number, return_index=True)
    names = dict(zip(number[first].tolist(), both.gather(first).to_list(), strict=True))
    enough = np.array(sorted(many.tolist(), key=names.__getitem__), dtype=np.intp)
    renumber = np.full(counts.size + 1, -1, dtype=np.intp)  # the last one serves "not stated"
    renumber[enough] = start + np.arange(enough.size)
    at = np.flatnonzero(usable & (renumber[number] >= 0))
    at = at[np.argsort(at % n, kind="stable")]  # in the order of the pairs
    rows = np.r_[pairs["row_1"].to_numpy(), pairs["row_2"].to_numpy()]
    return _Entries(
        renumber[number[at]],
        at % n,
        np.where(at < n, 1.0, -1.0),
        renumber[partner[at]],
        rows[at].astype(np.intp),
        [(kind, names[i]) for i in enough.tolist()],
    )


def _entries(pairs: pl.DataFrame) -> _Entries:
    parts: list[_Entries] = []
    names: list[tuple[str, str]] = []
    for kind in _COLUMN:
        parts.append(_entries_of_kind(pairs, kind, len(names)))
        names += parts[-1].names
    return _Entries(
        np.concatenate([p.place for p in parts]),
        np.concatenate([p.pair for p in parts]),
        np.concatenate([p.sign for p in parts]),
        np.concatenate([p.partner for p in parts]),
        np.concatenate([p.row for p in parts]),
        names,
    )


def _line(time: FloatArray, value: FloatArray) -> FloatArray:
    """Values of a robust straight line through points: median of slopes, median of what is left."""
    i, j = np.triu_indices(len(time), k=1)
    if len(i) > 200_000:  # a long series: slopes between points half the series apart are enough
        half = len(time) // 2
        i, j = np.arange(len(time) - half), np.arange(half, len(time))
    apart = time[j] != time[i]
    slope = np.median((value[j] - value[i])[apart] / (time[j] - time[i])[apart]) if apart.any() else 0.0
    return np.asarray(slope * time + np.median(value - slope * time))


@dataclass(slots=True)
class _Day:
    """Differences of all pairs: standardised (changed as effects are taken out), and their levels."""

    z: FloatArray
    sd: FloatArray
    mean: FloatArray
    time: FloatArray


def _finding(e: _Entries, day: _Day, place: int, p: float, effect: FloatArray, *, drifts: bool, tests: int,
             source: str | None) -> Finding:  # fmt: skip
    at = e.at(place)
    pair = e.pair[at]
    kind, name = e.names[place]
    beside = set(e.partner[at].tolist())
    alone = len(beside) == 1 and -1 not in beside  # its partner was always the same place
    level, sd = float(np.median(day.mean[pair])), float(np.median(day.sd[pair]))
    values: dict[str, Value] = {"place_kind": kind, "place": name}
    if alone:
        values["beside"] = e.names[beside.pop()][1]
    if drifts:
        values |= {"first_s": round(float(effect[0]) * sd, 1), "last_s": round(float(effect[-1]) * sd, 1)}
        code = "places-drift-apart" if alone else "place-drifts"
    else:
        shift = float(effect[0]) * sd
        values |= {"difference_s": round(shift, 1), "difference_pct": round(100.0 * shift / level, 1)}
        code = "places-apart" if alone else ("place-runs-high" if shift > 0 else "place-runs-low")
    values |= {
        "pairs": len(at),
        "places": len(e.names),
        "false_alarm_pct": 100.0 * FALSE_ALARM,
        "p": float(f"{min(1.0, p * tests):.2g}"),
    }
    where = Where(source=source, row=int(e.row[at[-1]]), field=_COLUMN[kind])
    return Finding(code, where, Severity.CHECK, values)


def _worst(e: _Entries, day: _Day, looked: _Index, tests: int) -> tuple[int, float, FloatArray, bool] | None:
    """The place with the least p that is both rare enough and large enough, with its effect by reading."""
    keep = np.isin(e.place, looked)
    place, value = e.place[keep], e.sign[keep] * day.z[e.pair[keep]]
    n = len(e.names)
    p_level = signed_rank_p(place, value, n)
    p_trend = rank_trend_p(place, value, n)
    for candidate in np.argsort(np.minimum(p_level, p_trend), kind="stable"):
        p = min(p_level[candidate], p_trend[candidate])
        if p * tests > FALSE_ALARM:
            return None
        at = e.at(int(candidate))
        own, time = e.sign[at] * day.z[e.pair[at]], day.time[e.pair[at]]
        # Once a place is known to be off, its trend is one question of its own.
        drifts = bool(p_trend[candidate] * tests <= FALSE_ALARM or p_trend[candidate] <= FALSE_ALARM)
        effect = _line(time, own) if drifts else np.full(len(at), np.median(own))
        if np.max(np.abs(effect)) >= LEAST_EFFECT_SD:
            return int(candidate), float(p), effect, drifts
    return None


def high_places(
    pairs: pl.DataFrame, scatter: ScatterLaw, *, source: str | None = None
) -> tuple[Finding, ...]:
    """Find positions, tubes and stirrers that read high or low, or drift, against their partners.

    Parameters
    ----------
    pairs : polars.DataFrame
        From :func:`lodestarch.control.bench_pairs.tube_pairs`.
    scatter : ScatterLaw
        Brings differences at different levels to one scale; the tests themselves do not rely on its size.
    source : str or None
        Name of the bench sheet.

    Returns
    -------
    tuple of Finding
        At the last reading of the place: ``place-runs-high``, ``place-runs-low``, ``place-drifts``; where the
        partner was always the same place, so that the record cannot say which of the two is off,
        ``places-apart`` and ``places-drift-apart``. All *check*.

    Notes
    -----
    For each place with at least ten pairs of exact readings: the signed-rank test for a shift and the rank
    correlation with time for a drift. The place with the least p is reported when p times the number of
    tests is at most ``FALSE_ALARM``; its effect is then taken out of its pairs and the rest looked at again,
    so that the partners of a bad stirrer are not blamed for it. Places that a first look finds ordinary are
    not looked at again: what hides behind a worse one shows once that is mended.
    """
    pairs = pairs.filter(pl.col("kind_1") == Kind.EXACT, pl.col("kind_2") == Kind.EXACT)
    if pairs.height < LEAST_PAIRS:
        return ()
    pairs = pairs.sort("run_at", "row_1", nulls_last=True)
    e = _entries(pairs)
    if not e.names:
        return ()
    x, y = pairs["seconds_1"].to_numpy(), pairs["seconds_2"].to_numpy()
    mean = (x + y) / 2.0
    sd = np.maximum(scatter.sd_s(mean), 1e-6)
    # Runs, not hours: a lunch break does not wear a stirrer.
    day = _Day((x - y) / sd, sd, mean, np.arange(pairs.height, dtype=np.float64))
    tests = 2 * len(e.names)
    value = e.sign * day.z[e.pair]
    first = np.minimum(
        signed_rank_p(e.place, value, len(e.names)),
        rank_trend_p(e.place, value, len(e.names)),
    )
    looked = np.flatnonzero(first <= 5.0 * FALSE_ALARM)
    found = []
    while looked.size and (worst := _worst(e, day, looked, tests)) is not None:
        place, p, effect, drifts = worst
        found.append(_finding(e, day, place, p, effect, drifts=drifts, tests=tests, source=source))
        at = e.at(place)
        day.z[e.pair[at]] -= e.sign[at] * effect
        looked = looked[looked != place]
    return tuple(sorted(found, key=lambda f: f.where.row or 0))
