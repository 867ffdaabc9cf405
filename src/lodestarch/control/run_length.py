"""Average run lengths: how long until a chart signals, in control and after a shift.

The idea: a chart is a Markov chain that ends at its first signal; with Q the probabilities of going on, the
expected number of values is the solution of (I - Q) L = 1. Rules have finitely many states and come out
exactly; CUSUM and EWMA have a continuous one, taken at Gauss-Legendre nodes.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from lodestarch.common.arrays import FloatArray
from lodestarch.common.errors import OutOfRange, UnknownName
from lodestarch.control.runs_rules import RULES, Rule

__all__ = ["arl_cusum", "arl_ewma", "arl_rules", "arl_shewhart"]

_NODES = 96


def _density(x: FloatArray) -> FloatArray:
    return np.asarray(np.exp(-0.5 * x * x) / math.sqrt(2.0 * math.pi))


def arl_shewhart(shift: float = 0.0, *, width: float = 3.0) -> float:
    """Average run length of single values against limits.

    Parameters
    ----------
    shift : float
        Shift of the mean in SDs.
    width : float
        SDs from centre to limit. Above 0.

    Examples
    --------
    >>> round(arl_shewhart(), 1), round(arl_shewhart(1.0), 1)
    (370.4, 43.9)
    """
    if not width > 0.0:
        raise OutOfRange("width", width, 0.0, math.inf, "1")
    return 1.0 / float(ndtr(-width - shift) + ndtr(-width + shift))


def _cusum_one_sided(k: float, h: float, shift: float) -> float:
    """Run length of one sum from 0: an atom at 0 and a density above it."""
    x, w = np.polynomial.legendre.leggauss(_NODES)
    y, w = 0.5 * h * (x + 1.0), 0.5 * h * w
    start = np.concatenate([[0.0], y])
    to_zero = ndtr(k - start - shift)
    to_node = _density(y[None, :] + k - start[:, None] - shift) * w
    q = np.column_stack([to_zero, to_node])
    return float(np.linalg.solve(np.eye(_NODES + 1) - q, np.ones(_NODES + 1))[0])


def arl_cusum(shift: float = 0.0, *, allowance: float = 0.5, limit: float = 5.0) -> float:
    """Average run length of the two-sided tabular CUSUM from zero.

    Parameters
    ----------
    shift : float
        Shift of the mean in SDs.
    allowance, limit : float
        k and h in SDs. At least 0, above 0.

    Notes
    -----
    1/L = 1/L_high + 1/L_low, exact for sums that start at 0 (with h at least k).

    Examples
    --------
    >>> round(arl_cusum(), 1), round(arl_cusum(1.0), 1)
    (465.4, 10.4)
    """
    if not allowance >= 0.0:
        raise OutOfRange("allowance", allowance, 0.0, math.inf, "1")
    if not limit > 0.0:
        raise OutOfRange("limit", limit, 0.0, math.inf, "1")
    high = _cusum_one_sided(allowance, limit, shift)
    low = _cusum_one_sided(allowance, limit, -shift)
    return 1.0 / (1.0 / high + 1.0 / low)


def arl_ewma(shift: float = 0.0, *, weight: float = 0.2, width: float = 3.0) -> float:
    """Average run length of the EWMA chart with asymptotic limits, from the centre.

    Parameters
    ----------
    shift : float
        Shift of the mean in SDs.
    weight : float
        Lambda. Above 0, at most 1.
    width : float
        L. Above 0.

    Examples
    --------
    >>> round(arl_ewma(weight=0.2, width=2.962), 1)
    499.7
    """
    if not 0.0 < weight <= 1.0:
        raise OutOfRange("weight", weight, 0.0, 1.0, "1")
    if not width > 0.0:
        raise OutOfRange("width", width, 0.0, math.inf, "1")
    h = width * math.sqrt(weight / (2.0 - weight))
    # The kernel is as narrow as the weight: more nodes for small ones.
    n = 2 * math.ceil(max(_NODES, 8.0 * h / weight) / 2.0) + 1  # odd, so that 0 is a node
    x, w = np.polynomial.legendre.leggauss(n)
    y, w = h * x, h * w
    q = _density((y[None, :] - (1.0 - weight) * y[:, None]) / weight - shift) * w / weight
    return float(np.linalg.solve(np.eye(n) - q, np.ones(n))[n // 2])


@dataclass(frozen=True, slots=True)
class _State:
    """Memory of the rules: signed counts of consecutive values, and what the present run holds."""

    side: int
    beyond_1: int
    beyond_2: int
    place: int
    high_2: bool
    low_2: bool


_EDGES = np.array([-np.inf, -3.0, -2.0, -1.0, 0.0, 1.0, 2.0, 3.0, np.inf])
_MIDDLE = (-3.5, -2.5, -1.5, -0.5, 0.5, 1.5, 2.5, 3.5)


def _count(old: int, value: float, limit: float, most: int) -> int:
    """Signed length of the run beyond a limit after one more value."""
    if value > limit:
        return min(max(old, 0) + 1, most)
    if value < -limit:
        return max(min(old, 0) - 1, -most)
    return 0


def _step(state: _State, value: float, rules: frozenset[str], controls: int, same_side: int) -> _State | None:
    """Next state, or ``None`` when a rule is broken."""
    side = _count(state.side, value, 0.0, same_side) if "10-x" in rules else 0
    one = _count(state.beyond_1, value, 1.0, 4) if "4-1s" in rules else 0
    two = _count(state.beyond_2, value, 2.0, 2) if "2-2s" in rules else 0
    ranged = "R-4s" in rules and controls > 1
    high, low = ranged and (state.high_2 or value > 2.0), ranged and (state.low_2 or value < -2.0)
    broken = (
        ("1-3s" in rules and abs(value) > 3.0)
        or ("1-2s" in rules and abs(value) > 2.0)
        or abs(side) >= same_side
        or abs(one) >= 4
        or abs(two) >= 2
        or (high and low)
    )
    if broken:
        return None
    place = (state.place + 1) % controls
    if place == 0:
        high = low = False
    return _State(side, one, two, place, high, low)


def arl_rules(
    shift: float = 0.0, *, rules: Sequence[Rule] = RULES, controls: int = 1, same_side: int = 10
) -> float:
    """Average number of runs until one of the rules is broken.

    Parameters
    ----------
    shift : float
        Shift of the mean in SDs.
    rules : sequence of str
    controls : int
        Values in a run, taken as one sequence: consecutive values count across materials and back into the
        run before. At least 1.
    same_side : int
        Length of the rule 10-x. At least 2.

    Returns
    -------
    float
        Runs until the signal, the run with the signal counted; 1/ARL is the false-alarm rate at shift 0.

    Examples
    --------
    >>> round(arl_rules(rules=["1-3s"]), 1), round(arl_rules(rules=["1-3s", "2-2s"]), 1)
    (370.4, 278.0)
    """
    names = frozenset(rules)
    for rule in names:
        if rule not in {*RULES, "1-2s"}:
            raise UnknownName("runs rule", rule, (*RULES, "1-2s"))
    if controls < 1:
        raise OutOfRange("controls", controls, 1, math.inf, "1")
    if same_side < 2:
        raise OutOfRange("same_side", same_side, 2, math.inf, "1")
    states, q = _chain(np.diff(ndtr(_EDGES - shift)), names, controls, same_side)
    # Time passes in runs: a value costs one run when it opens one.
    cost = np.array([1.0 if s.place == 0 else 0.0 for s in states])
    return float(np.linalg.solve(np.eye(len(states)) - q, cost)[0])


def _chain(
    p: FloatArray, rules: frozenset[str], controls: int, same_side: int
) -> tuple[list[_State], FloatArray]:
    """All states that can be reached without a signal, from the empty one, and their transitions."""
    empty = _State(side=0, beyond_1=0, beyond_2=0, place=0, high_2=False, low_2=False)
    index, states = {empty: 0}, [empty]
    rows: list[tuple[int, int, float]] = []
    for i, state in enumerate(states):  # grows while it is walked
        for value, probability in zip(_MIDDLE, p, strict=True):
            new = _step(state, value, rules, controls, same_side)
            if new is None:
                continue
            if new not in index:
                index[new] = len(states)
                states.append(new)
            rows.append((i, index[new], float(probability)))
    q = np.zeros((len(states), len(states)))
    for i, j, probability in rows:
        q[i, j] += probability
    return states, q
