"""What it is worth to stop loading until the results that are out have come in."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from lodestarch.plan.loadout.cargo import Cargo
from lodestarch.plan.loadout.draw import recipes
from lodestarch.plan.loadout.forecast import Forecast, forecast, known, rest_of

__all__ = ["Stopping", "stopping"]

OUTER: Final = 40
"""Drawn sets of results. [1]  A choice of ours."""
INNER: Final = 1_000
"""Drawn cargoes for each. [1]  A choice of ours."""


@dataclass(frozen=True, slots=True)
class Stopping:
    """Whether to stop.

    Parameters
    ----------
    gain : float
        What choosing the recipe with the results in hand is expected to bring over choosing now. [money]
    error : float
        Its standard error. [money]
    cost : float
        Of stopping. [money]
    """

    gain: float
    error: float
    cost: float

    @property
    def pays(self) -> bool:
        """Tell whether stopping pays beyond doubt of the drawing."""
        return self.gain - 2 * self.error > self.cost


def stopping(
    cargo: Cargo,
    made_t: float,
    missed_t: float,
    hours: float,
    cost_an_hour: float,
    rng: np.random.Generator,
    gate_steps: int = 4,
) -> Stopping:
    """Return what stopping until the results are in would bring.

    Parameters
    ----------
    cargo : Cargo
    made_t, missed_t : float
        Price of the cargo where it makes the clause and where it misses it. [money/t]
    hours, cost_an_hour : float
        How long the results take, and what an hour of waiting costs. [h], [money/h]
    rng : numpy.random.Generator
    gate_steps : int
        How finely recipes are cut here.

    Notes
    -----
    Value of information by nested drawing: for drawn results of the untested sublots, the best recipe then,
    against the recipe that is best now under the same drawn results; the same random numbers for both.
    """
    waiting = [i for i, s in enumerate(cargo.sublots) if s.result_s is None]
    choices = list(recipes(cargo, gate_steps))
    cost = hours * cost_an_hour
    if not waiting or len(choices) < 2:
        return Stopping(0.0, 0.0, cost)
    worth = {s.name: s.worth_t for s in cargo.sources}

    def value(part: Cargo, shares: dict[str, float], seed: int) -> float:
        found: Forecast = forecast(part, rest_of(part, shares), np.random.default_rng(seed), INNER)
        spent = part.to_load_t * sum(share * worth[name] for name, share in shares.items())
        return cargo.asked.tonnes * (found.odds * made_t + (1 - found.odds) * missed_t) - spent

    first = int(rng.integers(2**62))
    now = max(choices, key=lambda shares: value(cargo, shares, first))
    gains = np.empty(OUTER)
    for n in range(OUTER):
        part = _with_results(cargo, waiting, rng)
        seed = int(rng.integers(2**62))
        later = {tuple(sorted(c.items())): value(part, c, seed) for c in choices}
        gains[n] = max(later.values()) - later[tuple(sorted(now.items()))]
    return Stopping(float(gains.mean()), float(gains.std(ddof=1) / np.sqrt(OUTER)), cost)


def _with_results(cargo: Cargo, waiting: list[int], rng: np.random.Generator) -> Cargo:
    """Draw results for the sublots that wait, together."""
    k = known(cargo)
    bins = rng.multivariate_normal(k.mean, k.cov, method="eigh")
    sublots = list(cargo.sublots)
    for i in waiting:
        shares = np.array([sublots[i].shares.get(name, 0.0) for name in k.names])
        ln = float(shares @ bins) + float(np.sqrt(((shares * k.unmixed) ** 2).sum())) * rng.normal()
        fn = 6000.0 / max(ln, 1.0) + 50.0 + cargo.testing.bias_s + cargo.testing.sd_s * rng.normal()
        sublots[i] = replace(sublots[i], result_s=max(fn, 60.0))
    return replace(cargo, sublots=tuple(sublots))
