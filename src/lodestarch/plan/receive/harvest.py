"""Harvests drawn from a stated spread, to compare rules on: invented, every one."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from lodestarch.method.liquefaction import ln_from_fn
from lodestarch.plan.receive.loads import Load, Spread

__all__ = ["Harvest", "draw_harvest", "harvest_from", "shuffled"]


@dataclass(frozen=True, slots=True)
class Harvest:
    """Loads in the order in which they come, with their truth.

    Parameters
    ----------
    loads : tuple of Load
    ln : ndarray, shape (n,)
        True LN of each load. [1]
    """

    loads: tuple[Load, ...]
    ln: npt.NDArray[np.float64]

    @property
    def tonnes(self) -> npt.NDArray[np.float64]:
        """Mass of each load. [t]"""
        return np.array([load.tonnes for load in self.loads])


def draw_harvest(
    spread: Spread,
    rng: np.random.Generator,
    loads: int = 300,
    loads_a_field: float = 6.0,
    varieties: int = 6,
    days: int = 5,
    at_once: int = 4,
    load_t: tuple[float, float] = (18.0, 30.0),
) -> Harvest:
    """Draw a harvest: fields come in one after another, some at a time, each with several loads.

    Parameters
    ----------
    spread : Spread
    rng : numpy.random.Generator
    loads : int
    loads_a_field : float
        Mean; the number in a field is 1 + Poisson(mean - 1).
    varieties, days, at_once : int
        ``at_once`` fields deliver by turns.
    load_t : tuple of float
        Least and largest load. [t]
    """
    mean = rng.normal(spread.mean, spread.mean_sd)
    drift = np.cumsum(np.concatenate([[0.0], rng.normal(0.0, spread.day, days - 1)]))
    of_variety = rng.normal(0.0, spread.variety, varieties)
    out: list[Load] = []
    truth: list[float] = []
    for field, variety, left in _turns(rng, loads, loads_a_field, varieties, at_once):
        day = min(len(out) * days // loads, days - 1)
        out.append(
            Load(str(1000 + len(out)), float(rng.uniform(*load_t)), f"f{field[0]}", f"v{variety}", left, day)
        )
        y = mean + drift[day] + of_variety[variety] + field[1] * spread.field
        truth.append(y + rng.normal(0.0, spread.load))
    return Harvest(tuple(out), np.exp(np.array(truth)))


def _turns(
    rng: np.random.Generator, loads: int, loads_a_field: float, varieties: int, at_once: int
) -> Iterator[tuple[tuple[int, float], int, int]]:
    """Fields by turns: (number and effect), variety, loads still to come."""
    number = 0
    coming: list[list[float]] = []
    for _ in range(loads):
        while len(coming) < at_once:
            size = 1 + int(rng.poisson(max(loads_a_field - 1, 0.0)))
            coming.append([number, rng.normal(), int(rng.integers(varieties)), size])
            number += 1
        at = int(rng.integers(len(coming)))
        field = coming[at]
        field[3] -= 1
        yield (int(field[0]), field[1]), int(field[2]), int(field[3])
        if field[3] <= 0:
            coming.pop(at)


def shuffled(harvest: Harvest, rng: np.random.Generator) -> Harvest:
    """Return the same grain in the same order with the loads' attributes dealt out at random."""
    at = rng.permutation(len(harvest.loads))
    mixed = tuple(
        replace(load, field=harvest.loads[i].field, variety=harvest.loads[i].variety, to_come=None)
        for load, i in zip(harvest.loads, at, strict=True)
    )
    return Harvest(mixed, harvest.ln)


def harvest_from(
    fn_s: npt.ArrayLike, fields: list[str], varieties: list[str], load_t: float, rng: np.random.Generator
) -> Harvest:
    """Return measured samples as stand-in loads in random order.

    Parameters
    ----------
    fn_s : array_like, shape (n,)
        Measured falling numbers, above 50. [s]
    fields, varieties : list of str
    load_t : float
    rng : numpy.random.Generator
    """
    fn = np.asarray(fn_s, dtype=np.float64)
    order = rng.permutation(fn.size)
    loads = tuple(Load(str(1000 + k), load_t, fields[i], varieties[i]) for k, i in enumerate(order))
    return Harvest(loads, np.asarray(ln_from_fn(fn[order]), dtype=np.float64))
