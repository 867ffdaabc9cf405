"""How the cargo will end: odds at the lab that decides, sublots not yet tested carried as odds."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from lodestarch.method.liquefaction import LN_NUMERATOR, LN_OFFSET_S
from lodestarch.plan.gaussian import learned
from lodestarch.plan.loadout.cargo import Cargo, Sublot

__all__ = ["DRAWS", "Forecast", "Known", "forecast", "known", "rest_of"]

Array = npt.NDArray[np.float64]

DRAWS = 20_000
"""Drawn cargoes. [1]  A choice of ours: odds of 0.95 come out within 0.003 (two standard errors)."""

LEAST_LN = 1.0
"""Least LN that a drawn bin can have. [1]  FN 6050 s; keeps draws of very sound bins positive."""


@dataclass(frozen=True, slots=True)
class Known:
    """What is known of the bins given the results: means and covariance of their LN. [1]"""

    names: tuple[str, ...]
    mean: Array
    cov: Array
    unmixed: Array


@dataclass(frozen=True, slots=True)
class Forecast:
    """The end of the cargo.

    Parameters
    ----------
    odds : float
        Probability that it makes it where it is decided.
    error : float
        Standard error of the odds from the number of draws.
    low_s, middle_s, high_s : ndarray, shape (n,)
        5, 50 and 95 % of the running figure of the clause after each sublot, loaded and to come. [s]
    figure_s : tuple of float
        5, 50 and 95 % of the figure that is compared with the floor. [s]
    """

    odds: float
    error: float
    low_s: Array
    middle_s: Array
    high_s: Array
    figure_s: tuple[float, float, float]


def known(cargo: Cargo) -> Known:
    """Return what the bins' stated numbers and the results of sublots say of the bins.

    Notes
    -----
    LN of a sublot = sum share x bin + unmixed; a result adds the testing lab's error, to first order in LN:
    u(LN) = 6000 u/(FN - 50)^2. Linear Gaussian, updated result by result.
    """
    names = tuple(s.name for s in cargo.sources)
    fn = np.array([s.fn_s for s in cargo.sources])
    to_ln = LN_NUMERATOR / (fn - LN_OFFSET_S) ** 2
    mean = LN_NUMERATOR / (fn - LN_OFFSET_S)
    cov = np.diag((to_ln * np.array([s.u_s for s in cargo.sources])) ** 2)
    unmixed = to_ln * np.array([s.unmixed_s for s in cargo.sources])
    for sublot in cargo.sublots:
        if sublot.result_s is None:
            continue
        shares = _shares(names, sublot.shares)
        z, noise = _observed(cargo, sublot.result_s)
        mean, cov = learned(
            mean,
            cov,
            shares,
            z - float(shares @ mean),
            noise + float((shares * unmixed) @ (shares * unmixed)),
        )
    return Known(names, mean, cov, unmixed)


def rest_of(cargo: Cargo, shares: Mapping[str, float]) -> tuple[Sublot, ...]:
    """Return the sublots still to load, all drawn with one recipe."""
    out: list[Sublot] = []
    left = cargo.to_load_t
    number = max((s.number for s in cargo.sublots), default=0)
    while left > 1e-6:
        number += 1
        out.append(Sublot(number, min(cargo.asked.sublot_t, left), dict(shares)))
        left -= cargo.asked.sublot_t
    return tuple(out)


def forecast(cargo: Cargo, rest: Sequence[Sublot], rng: np.random.Generator, draws: int = DRAWS) -> Forecast:
    """Return how the cargo will end if the rest is drawn as given.

    Parameters
    ----------
    cargo : Cargo
    rest : sequence of Sublot
        Still to load; their results are not looked at.
    rng : numpy.random.Generator
    draws : int

    Notes
    -----
    Where the results of loading are final, sublots tested count as reported and the others get a drawn
    report; otherwise every sublot, or the composite, is reported anew by the lab that decides, with its bias.
    """
    sublots = [*cargo.sublots, *rest]
    tonnes = np.array([s.tonnes for s in sublots])
    ln = _drawn_ln(cargo, sublots, rng, draws)
    fn = LN_NUMERATOR / ln + LN_OFFSET_S
    lab = cargo.deciding or cargo.testing
    reports = fn + lab.bias_s + rng.normal(0.0, lab.sd_s, fn.shape)
    if cargo.deciding is None:
        for i, s in enumerate(cargo.sublots):
            if s.result_s is not None:
                reports[:, i] = s.result_s
    asked = cargo.asked
    run_t = np.cumsum(tonnes)
    if asked.judged == "composite":
        path = LN_NUMERATOR * run_t / np.cumsum(ln * tonnes, axis=1) + LN_OFFSET_S + lab.bias_s
        figure = path[:, -1] + rng.normal(0.0, lab.sd_s, draws)
        made = figure >= asked.passes_from_s
    elif asked.judged == "every-sublot":
        path = np.minimum.accumulate(reports, axis=1)
        figure = path[:, -1]
        made = figure >= asked.passes_from_s
    else:
        path = np.cumsum(reports * tonnes, axis=1) / run_t
        figure = path[:, -1]
        made = figure >= asked.passes_from_s
        if asked.judged == "average-with-sublot-minimum":
            made &= reports.min(axis=1) >= float(asked.sublot_at_least_s or 0.0)
    odds = float(made.mean())
    low, middle, high = np.quantile(path, [0.05, 0.5, 0.95], axis=0)
    a, b, c = np.quantile(figure, [0.05, 0.5, 0.95])
    return Forecast(
        odds,
        math.sqrt(max(odds * (1 - odds), 0.5 / draws) / draws),
        low,
        middle,
        high,
        (float(a), float(b), float(c)),
    )


def _drawn_ln(cargo: Cargo, sublots: Sequence[Sublot], rng: np.random.Generator, draws: int) -> Array:
    """LN of each sublot in each draw: bins drawn together, then each sublot about its bins."""
    k = known(cargo)
    bins = rng.multivariate_normal(k.mean, k.cov, draws, method="eigh")
    shares = np.array([_shares(k.names, s.shares) for s in sublots])
    own = np.sqrt(((shares * k.unmixed) ** 2).sum(axis=1))
    expected = bins @ shares.T
    sd = np.tile(own, (draws, 1))
    for i, s in enumerate(cargo.sublots):
        if s.result_s is not None:
            z, noise = _observed(cargo, s.result_s)
            weight = own[i] ** 2 / (own[i] ** 2 + noise)
            expected[:, i] += weight * (z - expected[:, i])
            sd[:, i] = math.sqrt(weight * noise)
    drawn: Array = np.maximum(expected + sd * rng.normal(size=expected.shape), LEAST_LN)
    return drawn


def _observed(cargo: Cargo, result_s: float) -> tuple[float, float]:
    """A result as LN with the variance of its error."""
    fn = result_s - cargo.testing.bias_s
    z = LN_NUMERATOR / (fn - LN_OFFSET_S)
    return z, (LN_NUMERATOR / (fn - LN_OFFSET_S) ** 2 * cargo.testing.sd_s) ** 2


def _shares(names: Sequence[str], shares: Mapping[str, float]) -> Array:
    return np.array([shares.get(name, 0.0) for name in names])
