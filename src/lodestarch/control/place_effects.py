"""Positions, stirrers, tubes, mills, analysts: which one runs high, from few levels, honestly.

The idea: every reading is its sample's level, plus the effect of its place, plus scatter. Samples are taken
as unknown, so that only readings of one sample in different places compare those places. Effects are random
with an unknown spread; that spread is integrated over, because with four positions it is hardly known. What
the data do not compare stays apart and is said to be so.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.special import stdtr

from lodestarch.common.errors import LodestarchError
from lodestarch.common.findings import Finding, Severity, Value
from lodestarch.control.place_model import (
    RATIO,
    Normal,
    centring,
    groups,
    mixture,
    normal_equations,
    quantile,
)

__all__ = ["PlaceEffect", "PlaceEffects", "place_effects"]

_FEW: Final = 10


@dataclass(frozen=True, slots=True)
class PlaceEffect:
    """One place.

    Parameters
    ----------
    place : str
    readings : int
        Readings in it that are compared with readings elsewhere.
    effect_pct, low_pct, high_pct : float
        Effect against the mean of the compared places, and its interval. [% of the level]
    p_high : float
        Probability that it runs high. [1]
    group : int
        Places of one group are compared with each other, directly or by way of others.
    verdict : str
        ``high``, ``low``, ``not-shown`` or ``not-compared``.
    """

    place: str
    readings: int
    effect_pct: float
    low_pct: float
    high_pct: float
    p_high: float
    group: int
    verdict: str


@dataclass(frozen=True, slots=True)
class PlaceEffects:
    """Effects of the places of one kind.

    Parameters
    ----------
    places : tuple of PlaceEffect
        Highest first.
    spread_pct, spread_low_pct, spread_high_pct : float or None
        SD between places, median and interval; ``None`` where nothing is compared. [% of the level]
    scatter_pct : float or None
        SD of one tube about sample and place, as these readings have it. [%]
    readings : int
        Readings that compare places.
    probability : float
        Content of the intervals.
    findings : tuple of Finding
        ``places-not-compared``, ``places-readings-few``, ``places-value-missing``, ``place-effect-high``,
        ``place-effect-low``.
    """

    places: tuple[PlaceEffect, ...]
    spread_pct: float | None
    spread_low_pct: float | None
    spread_high_pct: float | None
    scatter_pct: float | None
    readings: int
    probability: float
    findings: tuple[Finding, ...]


def place_effects(
    sample: npt.ArrayLike,
    place: npt.ArrayLike,
    value_s: npt.ArrayLike,
    sd_s: npt.ArrayLike,
    *,
    probability: float = 0.95,
    sd_dof: float = 30.0,
) -> PlaceEffects:
    """Estimate the effects of places from readings that share samples.

    Parameters
    ----------
    sample : array_like
        Label of what was measured: a sample, or a check material run by several analysts or mills.
    place : array_like
        Position, stirrer, tube, mill or analyst of each reading.
    value_s : array_like
        Readings; missing and not positive ones are left out with a finding. [s]
    sd_s : array_like
        SD of one reading at its level, from the law of scatter. [s]  Above 0.
    probability : float
        Content of the intervals.
    sd_dof : float
        Degrees of freedom of the law of scatter: how far these readings may move it.

    Returns
    -------
    PlaceEffects

    Raises
    ------
    LodestarchError
        When columns differ in length.

    Notes
    -----
    Effects work in ln FN (per cent of the level). For each ratio of place spread to scatter the posterior of
    the effects is Student's t (normal effects, scatter with a prior of ``sd_dof`` degrees of freedom); the
    ratio has a half-normal prior of scale 0.3 and is integrated over 49 values. With few readings an effect
    is drawn to 0, so that no place is called high for want of data.
    """
    labels, places = np.asarray(sample).ravel(), np.asarray(place).ravel()
    y, sd = np.asarray(value_s, dtype=np.float64).ravel(), np.asarray(sd_s, dtype=np.float64).ravel()
    if sd.size == 1 and y.size > 1:
        sd = np.full(y.size, float(sd[0]))
    if not labels.size == places.size == y.size == sd.size:
        raise LodestarchError("columns of readings differ in length")
    good = np.isfinite(y) & (y > 0.0) & np.isfinite(sd) & (sd > 0.0)
    findings: list[Finding] = []
    if not bool(good.all()):
        values: dict[str, Value] = {"readings": int((~good).sum())}
        findings.append(Finding("places-value-missing", severity=Severity.CHECK, values=values))
    names, where = np.unique(places[good].astype(str), return_inverse=True)
    _, which = np.unique(labels[good].astype(str), return_inverse=True)
    where, which = where.ravel(), which.ravel()
    cv = sd[good] / y[good]
    # In units of the typical tube's scatter, so that the ratio of spreads is a plain number.
    unit = float(np.median(cv)) if cv.size else 1.0
    equations = normal_equations(which, where, np.log(y[good]) / unit, cv / unit, names.size)
    group = groups(equations.info)
    count = np.bincount(where[equations.used], minlength=names.size)
    if not bool(equations.used.any()):
        findings.append(
            Finding("places-not-compared", severity=Severity.CHECK, values={"places": int(names.size)})
        )
        alone = tuple(
            PlaceEffect(str(n), 0, 0.0, 0.0, 0.0, 0.5, int(g), "not-compared")
            for n, g in zip(names, group, strict=True)
        )
        return PlaceEffects(alone, None, None, None, None, 0, probability, tuple(findings))
    out, spread, scatter = _posterior(equations, names, count, group, probability, sd_dof, 100.0 * unit)
    findings += _findings(out, count)
    return PlaceEffects(
        tuple(sorted(out, key=lambda e: -e.effect_pct)), *spread, scatter,
        int(equations.used.sum()), probability, tuple(findings),
    )  # fmt: skip


def _posterior(
    e: Normal,
    names: npt.NDArray[np.str_],
    count: npt.NDArray[np.int64],
    group: npt.NDArray[np.int64],
    probability: float,
    sd_dof: float,
    unit_pct: float,
) -> tuple[list[PlaceEffect], tuple[float, float, float], float]:
    post = mixture(e, centring(group, count), sd_dof)
    tail = 0.5 * (1.0 - probability)
    out = []
    for j, name in enumerate(names):
        if count[j] == 0:
            out.append(PlaceEffect(str(name), 0, 0.0, 0.0, 0.0, 0.5, int(group[j]), "not-compared"))
            continue
        low, high = (quantile(post, j, p) for p in (tail, 1.0 - tail))
        verdict = "high" if low > 0.0 else "low" if high < 0.0 else "not-shown"
        p_high = float(post.mass @ stdtr(post.dof, post.mean[:, j] / post.width[:, j]))
        effect = float(post.mass @ post.mean[:, j])
        out.append(
            PlaceEffect(
                str(name), int(count[j]), unit_pct * effect, unit_pct * low, unit_pct * high, p_high,
                int(group[j]), verdict,
            )
        )  # fmt: skip
    cdf = np.cumsum(post.mass) - 0.5 * post.mass
    spread = [unit_pct * float(np.interp(p, cdf, RATIO * post.scatter)) for p in (0.5, tail, 1.0 - tail)]
    return out, (spread[0], spread[1], spread[2]), unit_pct * float(post.mass @ post.scatter)


def _findings(out: list[PlaceEffect], count: npt.NDArray[np.int64]) -> list[Finding]:
    compared = {e.group for e in out if e.readings}
    found = []
    if len(compared) > 1 or any(e.readings == 0 for e in out):
        values: dict[str, Value] = {"groups": len({e.group for e in out})}
        found.append(Finding("places-not-compared", severity=Severity.NOTE, values=values))
    if bool(np.any((count > 0) & (count < _FEW))):
        values = {"least": int(count[count > 0].min()), "enough": _FEW}
        found.append(Finding("places-readings-few", severity=Severity.NOTE, values=values))
    found += [
        Finding(
            f"place-effect-{e.verdict}", severity=Severity.CHECK,
            values={"place": e.place, "readings": e.readings, "effect_pct": e.effect_pct,
                    "low_pct": e.low_pct, "high_pct": e.high_pct},
        )
        for e in out
        if e.verdict in {"high", "low"}
    ]  # fmt: skip
    return found
