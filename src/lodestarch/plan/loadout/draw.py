"""What to draw next: the recipe that keeps the odds and spends the least worth."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import combinations
from typing import Final

import numpy as np

from lodestarch.plan.loadout.cargo import Cargo
from lodestarch.plan.loadout.forecast import forecast, known, rest_of

__all__ = ["GATE_STEPS", "Recipe", "next_draw", "recipes"]

GATE_STEPS: Final = 10
"""Steps into which a draw of two bins is cut: tenths. A choice of ours; the gate's own steps can be given."""

SCREEN_DRAWS: Final = 3_000
"""Drawn cargoes a recipe when many are compared. [1]  Odds within 0.008 (two standard errors at 0.95)."""


@dataclass(frozen=True, slots=True)
class Recipe:
    """One way to load the rest.

    Parameters
    ----------
    shares : mapping of str to float
        By bin; adds up to 1.
    odds : float
        That the cargo makes it.
    error : float
        Standard error of the odds.
    spends_t : float
        Worth of a tonne drawn so, had it stayed. [money/t]
    fn_s : float
        Expected number of what is drawn. [s]
    """

    shares: Mapping[str, float]
    odds: float
    error: float
    spends_t: float
    fn_s: float


def recipes(cargo: Cargo, gate_steps: int = GATE_STEPS) -> Iterator[dict[str, float]]:
    """Give every recipe of one or two bins that the bins suffice for."""
    left = {s.name: cargo.left_t(s.name) for s in cargo.sources}
    need = cargo.to_load_t
    for name, tonnes in left.items():
        if tonnes + 1e-6 >= need:
            yield {name: 1.0}
    for a, b in combinations(left, 2):
        for step in range(1, gate_steps):
            share = step / gate_steps
            if left[a] + 1e-6 >= share * need and left[b] + 1e-6 >= (1 - share) * need:
                yield {a: share, b: 1 - share}


def next_draw(
    cargo: Cargo, wanted: float, rng: np.random.Generator, gate_steps: int = GATE_STEPS
) -> tuple[Recipe, ...]:
    """Return the recipes for the rest, the one to draw first.

    Parameters
    ----------
    cargo : Cargo
        With something left to load.
    wanted : float
        Wanted odds. 0 to 1.
    rng : numpy.random.Generator
    gate_steps : int

    Returns
    -------
    tuple of Recipe
        First those that reach the wanted odds, the one that spends least first; then the others by odds.
        Empty where no one or two bins suffice for the rest.
    """
    worth = {s.name: s.worth_t for s in cargo.sources}
    k = known(cargo)
    ln = dict(zip(k.names, k.mean, strict=True))
    seed = int(rng.integers(2**63))
    out = []
    for shares in recipes(cargo, gate_steps):
        # The same draws for every recipe, so that recipes differ by what they are and not by chance.
        found = forecast(cargo, rest_of(cargo, shares), np.random.default_rng(seed), SCREEN_DRAWS)
        mixed = sum(share * float(ln[name]) for name, share in shares.items())
        spends = sum(share * worth[name] for name, share in shares.items())
        out.append(Recipe(shares, found.odds, found.error, spends, 6000.0 / max(mixed, 1.0) + 50.0))
    reach = sorted((r for r in out if r.odds >= wanted), key=lambda r: (r.spends_t, r.fn_s))
    rest = sorted((r for r in out if r.odds < wanted), key=lambda r: -r.odds)
    return (*reach, *rest)
