"""One simulator for every rule: the same harvest, the same test errors, the same way of choosing bins."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from lodestarch.plan.receive.bins import OpenBin
from lodestarch.plan.receive.blend_value import best_blend
from lodestarch.plan.receive.desk import Desk, Mode, Season, Word
from lodestarch.plan.receive.grades import Grades
from lodestarch.plan.receive.harvest import Harvest
from lodestarch.plan.receive.loads import Load, Spread

__all__ = ["RULES", "Outcome", "hindsight", "one_bin", "play", "ratio_of_sums"]

Array = npt.NDArray[np.float64]
Rule = Callable[[Desk, Load, np.random.Generator], bool]


RULES: Mapping[str, Rule] = {
    "none": lambda desk, load, rng: False,  # noqa: ARG005  one signature for every rule
    "all": lambda desk, load, rng: True,  # noqa: ARG005
    "random": lambda desk, load, rng: desk.tests_left > 0 and bool(rng.uniform() < desk.share),  # noqa: ARG005
    "first-of-field": lambda desk, load, rng: desk.tests_left > 0 and desk.field_is_new(load),  # noqa: ARG005
    "worth": lambda desk, load, rng: desk.ask(load).word is not Word.DUMP,  # noqa: ARG005
}
"""Which loads are tested: none, all, a random share, the first of each field, those whose worth is above the
mark."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a rule brought in one harvest.

    Parameters
    ----------
    value : float
        Money for what lies in the bins at the true number of each. [money]
    tests : int
    bins_used : int
    """

    value: float
    tests: int
    bins_used: int


def play(
    harvest: Harvest,
    grades: Grades,
    spread: Spread,
    rule: str,
    test_share: float,
    bins: int = 6,
    capacity_t: float = 2000.0,
    seed: int = 0,
    mode: Mode = Mode.HOLD,
    season: Season | None = None,
) -> Outcome:
    """Play one harvest under a rule.

    Parameters
    ----------
    harvest : Harvest
    grades : Grades
        What a bin fetches, blended up to the limits at load-out.
    spread : Spread
        What the desk believes.
    rule : str
        One of :data:`RULES`.
    test_share : float
        Tests for so many of the loads. 0 to 1.
    bins : int
    capacity_t : float
        Room of each. [t]
    seed : int
        Of the test errors: a load's error is the same under every rule (common random numbers).
    mode : Mode
        In *dump*, a result comes after the load is in its bin.

    Returns
    -------
    Outcome
    """
    n = len(harvest.loads)
    season = season or Season(n, math.ceil(test_share * n), float(harvest.tonnes.mean()), 6.0)
    desk = Desk(
        grades,
        spread,
        season,
        [OpenBin(str(i + 1), capacity_t) for i in range(bins)],
        mode,
        days=1 + max(load.day for load in harvest.loads),
    )
    errors = np.random.default_rng([seed, 1]).normal(0.0, spread.test, n)
    chooser = np.random.default_rng([seed, 2])
    tests = 0
    truth: dict[str, float] = {}
    for load, ln, error in zip(harvest.loads, harvest.ln, errors, strict=True):
        truth[load.ticket] = float(ln)
        desk.belief.advance(load.day)
        tested = RULES[rule](desk, load, chooser)
        tests += tested
        if tested and mode is Mode.HOLD:
            desk.result(load, float(ln) * math.exp(error))
        desk.dump(load)
        if tested and mode is Mode.DUMP:
            desk.result(load, float(ln) * math.exp(error))
    return Outcome(_fetched(desk, truth), tests, sum(1 for b in desk.bins if b.loads))


def one_bin(harvest: Harvest, grades: Grades) -> float:
    """Return what everything in one bin fetches. [money]"""
    tonnes = harvest.tonnes
    return best_blend(grades, [float(tonnes @ harvest.ln / tonnes.sum())], [float(tonnes.sum())])


def hindsight(harvest: Harvest, grades: Grades) -> float:
    """Return an upper bound: every truth known, each load in a bin of its own until it is blended. [money]"""
    return best_blend(grades, harvest.ln, harvest.tonnes)


def ratio_of_sums(
    over: Array, under: Array, rng: np.random.Generator, draws: int = 2000
) -> tuple[float, float, float]:
    """Return sum(over)/sum(under) with a 95 % interval by paired bootstrap over harvests.

    Parameters
    ----------
    over, under : ndarray, shape (n,)
        Paired by harvest. [money]
    rng : numpy.random.Generator
    draws : int
    """
    at = rng.integers(0, over.size, (draws, over.size))
    drawn = over[at].sum(axis=1) / under[at].sum(axis=1)
    low, high = np.quantile(drawn, [0.025, 0.975])
    return float(over.sum() / under.sum()), float(low), float(high)


def _fetched(desk: Desk, truth: Mapping[str, float]) -> float:
    """Money for the bins, blended up to the limits at their true numbers when they are loaded out."""
    begun = [b for b in desk.bins if b.loads]
    mean = [sum(load.tonnes * truth[load.ticket] for load in b.loads) / b.tonnes for b in begun]
    return best_blend(desk.grades, mean, [b.tonnes for b in begun])
