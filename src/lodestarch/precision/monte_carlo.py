"""Propagation of distributions by simulation (GUM Supplement 1): the check on linear propagation."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from lodestarch.common.arrays import FloatArray
from lodestarch.common.errors import OutOfRange
from lodestarch.precision.distribution import Distribution
from lodestarch.precision.gum import Model, Propagated, coverage_factor

__all__ = ["Agreement", "Simulated", "compare_with_linear", "shortest_interval", "simulate", "tolerance_of"]


@dataclass(frozen=True, slots=True)
class Simulated:
    """Result of a simulation.

    Parameters
    ----------
    mean, u : float
        Mean and standard deviation of the draws.
    low, high : float
        Interval with equal tails.
    shortest_low, shortest_high : float
        Shortest interval of the same content.
    probability : float
        Content of both. [1]
    draws : int
    stable : bool
        Whether twice the standard error of each figure stays below the numerical tolerance.
    """

    mean: float
    u: float
    low: float
    high: float
    shortest_low: float
    shortest_high: float
    probability: float
    draws: int
    stable: bool


def tolerance_of(u: float, digits: int = 2) -> float:
    """Half a unit in the last of ``digits`` significant digits of u (GUM-S1 7.9.2, recalled).

    Examples
    --------
    >>> tolerance_of(0.0754), tolerance_of(35.0, 1)
    (0.0005, 5.0)
    """
    if not (math.isfinite(u) and u > 0.0):
        raise OutOfRange("u", u, 0.0, math.inf, "unit of the result")
    return 0.5 * math.pow(10.0, math.floor(math.log10(u)) - digits + 1)


def shortest_interval(draws: FloatArray, probability: float) -> tuple[float, float]:
    """Shortest interval that holds a share of the draws.

    Parameters
    ----------
    draws : ndarray
        At least two values.
    probability : float
        Above 0, below 1.
    """
    x = np.sort(draws)
    inside = min(max(round(probability * x.size), 1), x.size - 1)
    width = x[inside:] - x[:-inside]
    at = int(np.argmin(width))
    return float(x[at]), float(x[at + inside])


def simulate(
    model: Model,
    inputs: Sequence[Distribution],
    rng: np.random.Generator,
    *,
    probability: float = 0.95,
    block: int = 50_000,
    most_blocks: int = 40,
    digits: int = 2,
) -> Simulated:
    """Draw the inputs, evaluate the model, and go on until the figures stand still.

    Parameters
    ----------
    model : callable
        Takes an array (inputs, draws), returns one value per draw.
    inputs : sequence of Distribution
        Independent.
    rng : numpy.random.Generator
    probability : float
        Content of the intervals. Above 0, below 1.
    block, most_blocks : int
        Draws in a block; the most blocks drawn.
    digits : int
        Significant digits of u that shall stand.

    Returns
    -------
    Simulated

    Notes
    -----
    Adaptive procedure of GUM-S1 7.9 (recalled): from the second block on, stop once twice the standard
    error over blocks of mean, u and both ends lies below half a unit of the last digit of u.
    """
    blocks: list[FloatArray] = []
    figures: list[tuple[float, float, float, float]] = []
    tail = 0.5 * (1.0 - probability)
    stable = False
    while len(blocks) < most_blocks and not stable:
        x = np.stack([d.draw(rng, block) for d in inputs])
        y = np.asarray(model(x), dtype=np.float64)
        low, high = np.quantile(y, [tail, 1.0 - tail])
        blocks.append(y)
        figures.append((float(y.mean()), float(y.std(ddof=1)), float(low), float(high)))
        if len(blocks) > 1:
            table = np.array(figures)
            error = 2.0 * table.std(axis=0, ddof=1) / math.sqrt(len(blocks))
            u = float(np.concatenate(blocks).std(ddof=1))
            stable = u > 0.0 and bool(np.all(error <= tolerance_of(u, digits)))
            if u == 0.0:
                break
    y = np.concatenate(blocks)
    low, high = np.quantile(y, [tail, 1.0 - tail])
    short = shortest_interval(y, probability)
    return Simulated(
        float(y.mean()), float(y.std(ddof=1)), float(low), float(high), *short, probability, y.size, stable
    )


@dataclass(frozen=True, slots=True)
class Agreement:
    """Whether linear propagation holds against simulation.

    Parameters
    ----------
    linear_low, linear_high : float
        Interval by linear propagation.
    low_gap, high_gap : float
        Distance of each end from the simulated one.
    tolerance : float
        What the gaps may be.
    holds : bool
    """

    linear_low: float
    linear_high: float
    low_gap: float
    high_gap: float
    tolerance: float
    holds: bool


def compare_with_linear(linear: Propagated, simulated: Simulated, *, digits: int = 2) -> Agreement:
    """Compare the ends of the linear interval with those of the simulation (GUM-S1 clause 8, recalled).

    Parameters
    ----------
    linear : Propagated
    simulated : Simulated
    digits : int
        Significant digits of u to which both shall agree.
    """
    half = float(coverage_factor(linear.dof, simulated.probability)) * linear.u
    low, high = linear.value - half, linear.value + half
    gaps = abs(low - simulated.low), abs(high - simulated.high)
    delta = tolerance_of(linear.u, digits) if linear.u > 0.0 else 0.0
    return Agreement(low, high, *gaps, delta, max(gaps) <= delta)
