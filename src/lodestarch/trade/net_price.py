"""What results bring at every outlet, after haul and fee, over the odds at the lab that decides.

Rows are results, columns outlets. The amounts are closed forms of ``decide.expected_money``: nothing is taken
at the mean, and nothing is simulated.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from lodestarch.common.arrays import FloatArray, as_array
from lodestarch.common.errors import OutOfRange
from lodestarch.common.money import MoneyBySeconds
from lodestarch.decide.expected_money import expected_money, expected_moneys, money_sd
from lodestarch.decide.limits import chance_between
from lodestarch.trade.effect import Standing
from lodestarch.trade.factors import FACTORS
from lodestarch.trade.outlets import Outlet
from lodestarch.trade.price_curve import FN

__all__ = ["NetPrices", "Reports", "net_at", "net_curve", "net_prices", "reports_at", "worth_turned_away"]

_LEAST_CHANCE: Final = 1e-9
"""Chance of being turned away below which its worth need not be known. A choice of ours."""


@dataclass(frozen=True, slots=True)
class Reports:
    """What the deciding lab of each outlet may report: normal. [s]  Shape (results, outlets)."""

    mean_s: FloatArray
    sd_s: FloatArray


@dataclass(frozen=True, slots=True)
class NetPrices:
    """Shape (results, outlets) each; NaN: not evaluated.

    Parameters
    ----------
    net_per_t : ndarray
        Expected price less haul and fee. [money/t]
    spread_per_t : ndarray
        Standard deviation of it over the odds. [money/t]
    p_turned_away, p_not_stated : ndarray
        Chance of being turned away; of a report for which the terms give no price. [1]
    p_makes_it : ndarray
        Chance that the report lies within the limit; 1 without one. [1]
    best : ndarray of int, shape (results,)
        Column of the best net, -1 where none is evaluated.
    """

    net_per_t: FloatArray
    spread_per_t: FloatArray
    p_turned_away: FloatArray
    p_not_stated: FloatArray
    p_makes_it: FloatArray
    best: npt.NDArray[np.intp]


def reports_at(outlets: Sequence[Outlet], mean_s: npt.ArrayLike, u_s: npt.ArrayLike) -> Reports:
    """Return what each deciding lab may report of results.

    Parameters
    ----------
    outlets : sequence of Outlet
    mean_s, u_s : array_like, shape (results,)
        Results of this bench with their standard uncertainties. [s]

    Notes
    -----
    Mean: result + bias of that lab; variance: u^2 + its own variance + that of its bias. Where this bench's
    number is final the result is the report. Where nothing is known of the lab, u alone is taken: the caller
    says so.
    """
    mean, u = np.broadcast_arrays(np.atleast_1d(as_array(mean_s)), as_array(u_s))
    shape = (mean.size, len(outlets))
    out_mean, out_sd = np.empty(shape, order="F"), np.empty(shape, order="F")
    for i, outlet in enumerate(outlets):
        lab = outlet.deciding
        if outlet.decides_here:
            out_mean[:, i], out_sd[:, i] = mean, 0.0
        elif lab is None:
            out_mean[:, i], out_sd[:, i] = mean, u
        else:
            out_mean[:, i] = mean + lab.shift_s
            out_sd[:, i] = np.hypot(u, lab.report_sd_s)
    return Reports(out_mean, out_sd)


def net_curve(outlet: Outlet, tonnes: float, turned_away_per_t: float) -> MoneyBySeconds:
    """Return what a tonne brings at home for every report. [money/t]

    Parameters
    ----------
    outlet : Outlet
    tonnes : float
        Of the lot: one test's fee is spread over them. [t]  Above 0.
    turned_away_per_t : float
        What a tonne is worth at home that comes back. [money/t]

    Notes
    -----
    Grain that is turned away has been hauled there and is hauled back at the same freight.
    """
    back = turned_away_per_t - outlet.haul.per_t
    return outlet.curve.filled(back).plus(-outlet.haul.per_t - outlet.fee / tonnes)


def worth_turned_away(outlets: Sequence[Outlet]) -> float | None:
    """Return what a tonne is worth that somebody turned away: the best outlet that takes any number.

    Returns
    -------
    float or None
        At the least price there within the legal range; ``None`` where every outlet may turn grain away.
        [money/t]
    """
    legal = FACTORS[FN]
    found = []
    for outlet in outlets:
        if not outlet.curve.always_paid:
            continue
        m = outlet.curve.money
        ends = np.unique(
            np.clip(np.concatenate([[legal.low, legal.high], m.breaks_s]), legal.low, legal.high)
        )
        # Just beside every break as well: the lower side of a jump may be the one that does not own it.
        beside = np.clip(np.concatenate([ends, ends - 1e-6, ends + 1e-6]), legal.low, legal.high)
        found.append(float(m.at(beside).min()) - outlet.haul.per_t)
    return max(found, default=None)


def net_prices(
    outlets: Sequence[Outlet],
    mean_s: npt.ArrayLike,
    u_s: npt.ArrayLike,
    tonnes: npt.ArrayLike,
    *,
    turned_away_per_t: float | None,
) -> NetPrices:
    """Price results at every outlet.

    Parameters
    ----------
    outlets : sequence of Outlet
    mean_s, u_s : array_like, shape (results,)
        [s]  ``u_s`` 0: the number is taken as known.
    tonnes : array_like, shape (results,)
        Of each lot. [t]  Above 0.
    turned_away_per_t : float or None
        What a tonne is worth at home that comes back (:func:`worth_turned_away`); ``None``: not known.
        [money/t]

    Returns
    -------
    NetPrices
        Where grain may be turned away and nothing says what it is then worth, or where it is likelier than
        not that the terms give no price, the net is not evaluated.

    Raises
    ------
    OutOfRange
        Tonnes that are not above 0.
    """
    mean, u, mass = np.broadcast_arrays(np.atleast_1d(as_array(mean_s)), as_array(u_s), as_array(tonnes))
    bad = mass[~(mass > 0.0)]
    if bad.size:
        raise OutOfRange("tonnes", float(bad[0]), 0.0, math.inf, "t")
    reports = reports_at(outlets, mean, u)
    known = 0.0 if turned_away_per_t is None else turned_away_per_t
    curves = [net_curve(o, math.inf, known) for o in outlets]
    net = expected_moneys(curves, reports.mean_s, reports.sd_s)
    for i, outlet in enumerate(outlets):
        if outlet.fee:
            net[:, i] -= outlet.fee / mass
    away, silent = (
        _chances(outlets, reports, Standing.TURNED_AWAY),
        _chances(outlets, reports, Standing.NOT_STATED),
    )
    if turned_away_per_t is None:
        net[away + silent > _LEAST_CHANCE] = np.nan
    net[silent >= 0.5] = np.nan
    spread = np.empty_like(net)
    makes = np.ones_like(net)
    for i, (outlet, curve) in enumerate(zip(outlets, curves, strict=True)):
        m, s = reports.mean_s[:, i], reports.sd_s[:, i]
        spread[:, i] = money_sd(curve, m, s) if curve.breaks_s.size or curve.slope_per_s.any() else 0.0
        if outlet.limit is not None:
            makes[:, i] = chance_between(m, s, outlet.limit.low_report_s, outlet.limit.high_report_s)[0]
    spread[np.isnan(net)] = np.nan
    return NetPrices(net, spread, away, silent, makes, _best(net))


def net_at(
    outlets: Sequence[Outlet],
    mean_s: npt.ArrayLike,
    u_s: npt.ArrayLike,
    tonnes: npt.ArrayLike,
    *,
    turned_away_per_t: float,
) -> FloatArray:
    """Expected net alone, for many results: what :func:`net_prices` gives, without the chances. [money/t]

    Returns
    -------
    ndarray, shape (results, outlets)
    """
    mean, u, mass = np.broadcast_arrays(np.atleast_1d(as_array(mean_s)), as_array(u_s), as_array(tonnes))
    reports = reports_at(outlets, mean, u)
    curves = [net_curve(o, math.inf, turned_away_per_t) for o in outlets]
    net = expected_moneys(curves, reports.mean_s, reports.sd_s)
    for i, outlet in enumerate(outlets):
        if outlet.fee:
            net[:, i] -= outlet.fee / mass
    return net


def _chances(outlets: Sequence[Outlet], reports: Reports, standing: Standing) -> FloatArray:
    out = np.zeros_like(reports.mean_s)
    for i, outlet in enumerate(outlets):
        if np.any(outlet.curve.standing == standing):
            one = outlet.curve.chance_of(standing)
            out[:, i] = np.clip(expected_money(one, reports.mean_s[:, i], reports.sd_s[:, i]), 0.0, 1.0)
    return out


def _best(net: FloatArray) -> npt.NDArray[np.intp]:
    if net.shape[1] == 0:
        return np.full(net.shape[0], -1, dtype=np.intp)
    best = np.argmax(np.where(np.isnan(net), -np.inf, net), axis=1)
    return np.asarray(np.where(np.isnan(net).all(axis=1), -1, best), dtype=np.intp)
