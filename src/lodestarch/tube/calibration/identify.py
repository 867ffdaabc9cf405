"""What the data cannot tell apart.

The slopes of the residuals to the logarithms of what moves, taken apart into singular directions: along each
the data allow a change of 1/(singular value). Where that is large, only the combination is unknown, not its
parts one by one: the report names the parts.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from lodestarch.common.arrays import FloatArray
from lodestarch.tube.calibration.problem import Problem

__all__ = ["LOOSE", "Direction", "Identified", "identify"]

LOOSE: Final = 0.5
"""A direction along which one standard uncertainty is more than this (a factor of 1.65) is not determined."""


@dataclass(frozen=True, slots=True)
class Direction:
    """One combination of what moves.

    Parameters
    ----------
    u_log : float
        Standard uncertainty along it, of a logarithm; infinite where the data say nothing. [1]
    parts : tuple of (str, float)
        Its larger parts with their weights, as in ``ln b + ln A``: equal signs move together.
    determined : bool
        False where the data leave it open.
    """

    u_log: float
    parts: tuple[tuple[str, float], ...]
    determined: bool


@dataclass(frozen=True, slots=True)
class Identified:
    """What a set of data determines.

    Parameters
    ----------
    names : tuple of str
        What moves.
    directions : tuple of Direction
        From the loosest to the tightest.
    rank : int
        How many directions the data determine.
    alike : tuple of (str, str, float)
        Pairs whose estimates go together so closely that the data hardly tell them apart, with their
        correlation (0.98 and more without sign).
    """

    names: tuple[str, ...]
    directions: tuple[Direction, ...]
    rank: int
    alike: tuple[tuple[str, str, float], ...]

    @property
    def whole(self) -> bool:
        """True where everything that moves is determined."""
        return self.rank == len(self.names)


def identify(problem: Problem, theta: FloatArray) -> Identified:
    """Report what the observations of a problem determine near ``theta``."""
    return of_slopes(problem.names, problem.jacobian(theta))


def of_slopes(names: tuple[str, ...], slopes: FloatArray) -> Identified:
    """Report what slopes of residuals (a row a residual, a column a name) determine."""
    _, values, rows = np.linalg.svd(slopes, full_matrices=True)
    padded = np.zeros(len(names))
    padded[: values.size] = values
    tiny = 1e-9 * max(float(padded.max()), 1e-300)
    directions = []
    for value, row in sorted(zip(padded, rows, strict=True), key=lambda pair: float(pair[0])):
        u_log = 1.0 / float(value) if value > tiny else float("inf")
        order = np.argsort(-np.abs(row))
        sign = 1.0 if row[order[0]] > 0.0 else -1.0
        parts = tuple((names[i], round(float(sign * row[i]), 3)) for i in order if abs(row[i]) >= 0.15)
        directions.append(Direction(u_log, parts, u_log <= LOOSE))
    rank = sum(direction.determined for direction in directions)
    return Identified(names, tuple(directions), rank, _alike(names, slopes, tiny))


def _alike(names: tuple[str, ...], slopes: FloatArray, tiny: float) -> tuple[tuple[str, str, float], ...]:
    # A whisper of a prior, so that a direction without data shows as one in which all is possible.
    covariance = np.linalg.inv(slopes.T @ slopes + (1e3 * tiny) ** 2 * np.eye(len(names)))
    spread = np.sqrt(np.maximum(np.diag(covariance), 1e-300))
    found = []
    for i in range(len(names)):
        for j in range(i):
            r = float(covariance[i, j] / (spread[i] * spread[j]))
            if abs(r) >= 0.98:
                found.append((names[j], names[i], round(r, 4)))
    return tuple(found)
