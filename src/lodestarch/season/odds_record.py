"""Odds that were given against what really happened: on retests here, and at the lab that decides."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.special import ndtri

from lodestarch.common.errors import LodestarchError
from lodestarch.common.findings import Finding, Severity, Value

__all__ = ["OddsBin", "OddsRecord", "judge_odds"]

_ENOUGH: Final = 20
"""Outcomes below which odds are not judged (a choice of ours)."""


@dataclass(frozen=True, slots=True)
class OddsBin:
    """Lots that were given about the same odds: what was said, what came, with a 95 % score interval."""

    said: float
    came: float
    low: float
    high: float
    count: int


@dataclass(frozen=True, slots=True)
class OddsRecord:
    """How odds have done.

    Parameters
    ----------
    count : int
    said, came : float or None
        Mean odds, and share that met the limit. [1]
    brier, brier_flat : float or None
        Mean squared error of the odds, and of always giving the share that came. [1]
    log_score : float or None
        Mean logarithm of the odds given to what came.
    bins : tuple of OddsBin
        By size of the odds, about as many lots in each.
    chance : float or None
        Probability of a mean so far from what came, were the odds right. [1]
    findings : tuple of Finding
    """

    count: int
    said: float | None
    came: float | None
    brier: float | None
    brier_flat: float | None
    log_score: float | None
    bins: tuple[OddsBin, ...]
    chance: float | None
    findings: tuple[Finding, ...]


def judge_odds(odds: npt.ArrayLike, met: npt.ArrayLike, *, bins: int = 5) -> OddsRecord:
    """Hold odds against outcomes.

    Parameters
    ----------
    odds : array_like
        Probability given beforehand. [1]
    met : array_like of bool
        Whether the limit was met.
    bins : int

    Returns
    -------
    OddsRecord
        With ``season-odds-few`` (not judged), ``season-odds-off`` (too high or too low beyond chance).

    Raises
    ------
    LodestarchError
        When odds lie outside 0 to 1 or lengths differ.
    """
    p, y = np.asarray(odds, dtype=np.float64).ravel(), np.asarray(met, dtype=bool).ravel()
    if p.size != y.size or bool(np.any(~((p >= 0.0) & (p <= 1.0)))):
        raise LodestarchError(f"{p.size} odds from 0 to 1 beside {y.size} outcomes are asked for")
    n = p.size
    if n < _ENOUGH:
        told: dict[str, Value] = {"count": n, "enough": _ENOUGH}
        few = Finding("season-odds-few", severity=Severity.NOTE, values=told)
        return OddsRecord(n, None, None, None, None, None, (), None, (few,))
    said, came = float(p.mean()), float(y.mean())
    spread = math.sqrt(float(np.sum(p * (1.0 - p)))) / n
    z = abs(came - said) / spread if spread > 0.0 else (0.0 if came == said else math.inf)
    chance = math.erfc(z / math.sqrt(2.0))
    given = np.clip(np.where(y, p, 1.0 - p), 1e-6, 1.0)
    order = np.argsort(p, kind="stable")
    made = []
    for part in np.array_split(order, min(bins, n // 5)):
        k, m = int(y[part].sum()), int(part.size)
        made.append(OddsBin(float(p[part].mean()), k / m, *_wilson(k, m), m))
    found: tuple[Finding, ...] = ()
    if chance < 0.01:
        told = {"said_pct": 100.0 * said, "came_pct": 100.0 * came, "count": n}
        found = (Finding("season-odds-off", severity=Severity.CHECK, values=told),)
    return OddsRecord(
        n, said, came, float(np.mean((p - y) ** 2)), came * (1.0 - came), float(np.log(given).mean()),
        tuple(made), chance, found,
    )  # fmt: skip


def _wilson(k: int, m: int) -> tuple[float, float]:
    """Score interval of a share."""
    z2 = float(ndtri(0.975)) ** 2
    centre = (k + 0.5 * z2) / (m + z2)
    half = math.sqrt(z2 * (k * (m - k) / m + 0.25 * z2)) / (m + z2)
    return max(0.0, centre - half), min(1.0, centre + half)
