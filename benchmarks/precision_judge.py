"""Simulated labs that judge the stated intervals: shared by the short form in the tests and the long run.

A *cell* is one truth (a law with its size), one number of pairs, one spread of levels, censored or not.
Each simulated lab draws its pairs from the truth, fits them knowing nothing of it, and states intervals;
the judge counts how often they hold.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from lodestarch.method.reading import Kind
from lodestarch.precision.mixture import weighted_quantiles
from lodestarch.precision.pairs import Pairs, clean_pairs
from lodestarch.precision.scatter_fit import fit_pairs
from lodestarch.precision.scatter_likelihood import evidence
from lodestarch.precision.scatter_posterior import grid_posterior
from lodestarch.precision.scatter_prior import ScatterPrior

REFERENCE_S = 300.0
NO_GROSS = ScatterPrior(gross_shares=(0.0,), gross_weights=(1.0,))
FLOOR_S, STOP_S = 62.0, 450.0

Sd = Callable[[np.ndarray], np.ndarray]


@dataclass(frozen=True)
class Truth:
    """A law of scatter with its CV at 300 s; ``law`` indexes ``scatter_shape.LAWS``."""

    name: str
    law: int
    cv_300: float
    constant: float = 0.3
    """Constant part of the variance at 300 s of constant plus proportional."""
    power: float = 1.0
    """Of the level, where ``law`` is 0: 1 is constant CV, another one is none of the laws."""

    def sd_s(self, fn_s: np.ndarray) -> np.ndarray:
        if self.law == 0:
            return self.cv_300 * REFERENCE_S * (fn_s / REFERENCE_S) ** self.power
        if self.law == 1:
            return self.cv_300 * np.sqrt(self.constant * REFERENCE_S**2 + (1.0 - self.constant) * fn_s**2)
        return self.cv_300 * REFERENCE_S * ((fn_s - 50.0) / 250.0) ** 2


TRUTHS = tuple(
    Truth(f"{name} {cv:.1%}", law, cv)
    for law, name in enumerate(("constant CV", "constant plus proportional", "constant in LN"))
    for cv in (0.01, 0.02, 0.03, 0.04)
)

OTHERS = {
    truth.name: truth
    for truth in (
        Truth("constant CV", 0, 0.025),
        *(Truth(f"constant part {q:.0%}", 1, 0.025, q) for q in (0.05, 0.1, 0.2, 0.5, 0.8)),
        Truth("constant in LN", 2, 0.025),
        Truth("power 1.5, between constant CV and constant in LN", 0, 0.025, power=1.5),
    )
}
"""Truths that the judge does not have."""


def levels_s(rng: np.random.Generator, n: int, spread: str) -> np.ndarray:
    """``balanced``: all over the working span; ``unbalanced``: a sound season with few low samples."""
    if spread == "balanced":
        return rng.uniform(FLOOR_S, STOP_S, n)
    sound = np.clip(rng.normal(340.0, 35.0, n), FLOOR_S, STOP_S)
    return np.where(rng.random(n) < 0.85, sound, rng.uniform(FLOOR_S, 300.0, n))


def read_tubes(
    rng: np.random.Generator, truth: Truth, mean_s: np.ndarray, *, censored: bool, gross: float = 0.0
) -> tuple[np.ndarray, np.ndarray]:
    """One tube per level: seconds and kinds; censored at the floor of 62 s and at a stop of 450 s."""
    sd = truth.sd_s(mean_s) * np.where(rng.random(mean_s.size) < gross, 5.0, 1.0)
    value = mean_s + sd * rng.standard_normal(mean_s.size)
    if not censored:
        return np.clip(value, 60.0, 900.0), np.zeros(mean_s.size, dtype=np.int8)
    kind = np.where(value <= FLOOR_S, Kind.AT_OR_BELOW, np.where(value > STOP_S, Kind.ABOVE, Kind.EXACT))
    return np.clip(value, FLOOR_S, STOP_S), kind.astype(np.int8)


def simulate_pairs(
    rng: np.random.Generator, truth: Truth, n: int, spread: str, *, censored: bool, gross: float = 0.0
) -> Pairs:
    mean = levels_s(rng, n, spread)
    a, ka = read_tubes(rng, truth, mean, censored=censored, gross=gross)
    b, kb = read_tubes(rng, truth, mean, censored=censored, gross=gross)
    return clean_pairs(a, b, first_kind=ka, second_kind=kb)


def mean_coverage(
    rng: np.random.Generator,
    truth: Truth,
    *,
    labs: int,
    pairs: int,
    spread: str = "balanced",
    censored: bool = True,
    scale_u: tuple[float, ...] = (1.0,),
    results_per_lab: int = 8,
) -> np.ndarray:
    """How often the stated 95 % interval of a duplicate mean holds the bench's long-run mean.

    Results lie at levels of the same season, away from floor and stop, where the truth's CV lies within
    1 to 4 %: the range for which the claim is made. One figure for each factor by which u is scaled.
    """
    factor = np.array(scale_u)
    hits, total = np.zeros(factor.size), 0
    fit = fit_pairs(simulate_pairs(rng, truth, pairs, spread, censored=censored))
    for _ in range(labs):
        if pairs:  # without pairs every lab states the same
            fit = fit_pairs(simulate_pairs(rng, truth, pairs, spread, censored=censored))
        mean = levels_s(rng, 6 * results_per_lab, spread)
        cv = truth.sd_s(mean) / mean
        usable = (mean > 80.0) & (mean < 430.0) & (cv > 0.00999) & (cv < 0.04001)
        mean = mean[usable][:results_per_lab]
        if not mean.size:
            continue
        sd = truth.sd_s(mean) / np.sqrt(2.0)
        result = np.clip(mean + sd * rng.standard_normal(mean.size), 60.0, 900.0)
        half = fit.half_width_s(result)
        hits += (np.abs(result - mean) <= factor[:, None] * half).sum(axis=1)
        total += mean.size
    return hits / total


def sd_coverage(
    rng: np.random.Generator,
    truth: Truth,
    *,
    labs: int,
    pairs: int = 50,
    spread: str = "balanced",
    censored: bool = True,
    gross: float = 0.0,
    at_s: tuple[float, ...] = (150.0, 300.0, 400.0),
) -> tuple[np.ndarray, np.ndarray]:
    """Coverage of the 90 % interval of the SD at levels, and its mean width over the ideal's.

    The ideal estimator knows which law made the data and that no gross errors exist; it estimates that
    law's parameters from the same pairs under the same prior of its parameters.
    """
    levels = np.array(at_s)
    true_sd = truth.sd_s(levels)
    hits = np.zeros(levels.size)
    width = np.zeros(levels.size)
    ideal = np.zeros(levels.size)
    for _ in range(labs):
        drawn = simulate_pairs(rng, truth, pairs, spread, censored=censored, gross=gross)
        fit = fit_pairs(drawn)
        q = fit.sd_quantiles_s(levels, np.array([0.05, 0.95]))
        hits += (q[:, 0] <= true_sd) & (true_sd <= q[:, 1])
        width += q[:, 1] - q[:, 0]
        known = ideal_quantiles(drawn, truth.law, levels)
        ideal += known[:, 1] - known[:, 0]
    return hits / labs, width / ideal


def ideal_quantiles(pairs: Pairs, law: int, levels: np.ndarray) -> np.ndarray:
    """5 % and 95 % of the SD when the law is known and gross errors are known not to exist."""
    data = evidence(pairs)
    grid = grid_posterior(data, NO_GROSS.after(data.n))
    mine = np.flatnonzero(grid.shapes.law == law)
    mass = np.exp(grid.log_mass[0, mine] - grid.log_mass[0, mine].max()).ravel()
    log_sd = grid.log_scale[0, mine][None] + np.log(grid.shapes.at(levels))[mine].T[:, :, None]
    atoms, cells = log_sd.reshape(levels.size, -1), grid.cell[0, mine].ravel()
    return np.exp(weighted_quantiles(atoms, cells, mass / mass.sum(), np.array([0.05, 0.95])))
