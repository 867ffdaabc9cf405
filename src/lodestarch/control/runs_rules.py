"""Runs rules over check samples: 1-3s, 2-2s, R-4s, 4-1s, 10-x, and the warning 1-2s.

A name says how many values lie beyond how many SDs. 1-3s and R-4s answer to random error; 2-2s, 4-1s and 10-x
to a shift.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal, get_args

import numpy as np
import numpy.typing as npt

from lodestarch.common.arrays import FloatArray
from lodestarch.common.errors import LodestarchError, OutOfRange, UnknownName

__all__ = ["RULES", "RuleSignal", "runs_rules"]

Rule = Literal["1-2s", "1-3s", "2-2s", "R-4s", "4-1s", "10-x"]
RULES: Final[tuple[Rule, ...]] = ("1-3s", "2-2s", "R-4s", "4-1s", "10-x")
"""Rules that stop a bench [1]; 1-2s only warns. Definitions published: two open summaries of multirules in
clinical chemistry; primary Westgard, Barry, Hunt and Groth 1981, Clinical Chemistry 27:493-501 (recalled)."""


@dataclass(frozen=True, slots=True)
class RuleSignal:
    """One rule broken.

    Parameters
    ----------
    rule : str
    at : int
        Place of the value that completed it.
    places : tuple of int
        All values that make it up.
    side : int
        +1 high, -1 low, 0 both (R-4s).
    error : str
        ``random`` or ``shift``: what it answers to.
    """

    rule: str
    at: int
    places: tuple[int, ...]
    side: int
    error: str


def runs_rules(
    z: npt.ArrayLike,
    *,
    run: npt.ArrayLike | None = None,
    control: npt.ArrayLike | None = None,
    rules: Sequence[Rule] = RULES,
    same_side: int = 10,
) -> tuple[RuleSignal, ...]:
    """Look for broken rules in a series of check results.

    Parameters
    ----------
    z : array_like
        Results from their targets in SDs, in order of time, all finite.
    run : array_like, optional
        Run of each value (its own when left out); R-4s looks within a run only.
    control : array_like, optional
        Material of each value. The runs of 2-2s, 4-1s and 10-x are then looked for within each material and
        across all of them.
    rules : sequence of str
    same_side : int
        Length of the rule 10-x: 8, 10 or 12 are in use. At least 2.

    Returns
    -------
    tuple of RuleSignal
        In order of time; a rule that goes on signals at each further value.

    Examples
    --------
    >>> [(s.rule, s.at) for s in runs_rules([0.2, 2.3, 2.1, -3.2])]
    [('2-2s', 2), ('1-3s', 3)]
    """
    for rule in rules:
        if rule not in get_args(Rule):
            raise UnknownName("runs rule", rule, get_args(Rule))
    if same_side < 2:
        raise OutOfRange("same_side", same_side, 2, math.inf, "1")
    x = np.asarray(z, dtype=np.float64).ravel()
    if not bool(np.all(np.isfinite(x))):
        raise LodestarchError("runs rules take finite values; missing ones are left out before")
    group = np.arange(x.size) if run is None else np.asarray(run).ravel()
    series = _series(x.size, control)
    found: list[RuleSignal] = []
    for rule in rules:
        if rule in {"1-2s", "1-3s"}:
            found += _beyond(x, rule, 2.0 if rule == "1-2s" else 3.0)
        elif rule == "R-4s":
            found += _range(x, group)
        else:
            limit, length = {"2-2s": (2.0, 2), "4-1s": (1.0, 4), "10-x": (0.0, same_side)}[rule]
            for places in series:
                found += _consecutive(x, places, rule, limit, length)
    unique = {(s.rule, s.places): s for s in found}
    return tuple(sorted(unique.values(), key=lambda s: (s.at, s.rule)))


def _series(n: int, control: npt.ArrayLike | None) -> list[npt.NDArray[np.int64]]:
    """Places of all values, then those of each material where there are several."""
    everything = [np.arange(n)]
    if control is None:
        return everything
    label = np.asarray(control).ravel()
    names = np.unique(label)
    return everything + ([np.flatnonzero(label == name) for name in names] if names.size > 1 else [])


def _beyond(x: FloatArray, rule: str, limit: float) -> list[RuleSignal]:
    return [
        RuleSignal(rule, int(i), (int(i),), 1 if x[i] > 0.0 else -1, "random")
        for i in np.flatnonzero(np.abs(x) > limit)
    ]


def _consecutive(
    x: FloatArray, places: npt.NDArray[np.int64], rule: str, limit: float, length: int
) -> list[RuleSignal]:
    """Runs of a length beyond one limit on one side."""
    y, out = x[places], []
    for side in (1, -1):
        hit = (side * y > limit).astype(np.int64)
        if hit.size < length:
            continue
        total = np.concatenate([[0], np.cumsum(hit)])
        full = np.flatnonzero(total[length:] - total[:-length] == length)
        for start in full:
            members = tuple(int(p) for p in places[start : start + length])
            out.append(RuleSignal(rule, members[-1], members, side, "shift"))
    return out


def _range(x: FloatArray, group: npt.NDArray[np.generic]) -> list[RuleSignal]:
    """One value beyond +2s and another beyond -2s in one run."""
    out = []
    for name in dict.fromkeys(group[np.abs(x) > 2.0].tolist()):
        members = np.flatnonzero(group == name)
        high, low = members[x[members] > 2.0], members[x[members] < -2.0]
        if high.size and low.size:
            # The value that completes the rule is the later of the first one on each side.
            pair = tuple(sorted((int(high[0]), int(low[0]))))
            out.append(RuleSignal("R-4s", pair[-1], pair, 0, "random"))
    return out
