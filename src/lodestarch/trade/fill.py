"""Loads dealt out over offers: contracts first, while they have room, then bids."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from lodestarch.common.arrays import FloatArray
from lodestarch.trade.outlets import Outlet, Stands

__all__ = ["Filled", "fill"]

Bools = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Filled:
    """Where every load goes.

    Parameters
    ----------
    outlet : ndarray of int, shape (loads,)
        Column of its outlet, -1 where it goes nowhere.
    room_t : ndarray, shape (outlets,)
        What is left of each offer. [t]
    """

    outlet: npt.NDArray[np.intp]
    room_t: FloatArray


def fill(
    outlets: Sequence[Outlet],
    net_per_t: FloatArray,
    p_makes_it: FloatArray,
    tonnes: FloatArray,
    allowed: Bools,
) -> Filled:
    """Deal loads out in the order in which they came.

    Parameters
    ----------
    outlets : sequence of Outlet
    net_per_t, p_makes_it : ndarray, shape (loads, outlets)
        [money/t], [1]
    tonnes : ndarray, shape (loads,)
        [t]
    allowed : ndarray of bool, shape (loads, outlets)
        What law, profile and kind leave.

    Notes
    -----
    A load goes to the contract that brings most among those that stand now, have room for all of it, and
    which it is likelier than not to meet; otherwise to whatever brings most and has room. Nothing is split,
    and no load is moved for a later one: the plan for a whole day is another question.
    """
    room = np.array([o.room_t for o in outlets], dtype=np.float64)
    stands = np.array([o.stands is Stands.NOW for o in outlets], dtype=np.bool_)
    contract = np.array([o.is_contract for o in outlets], dtype=np.bool_)
    chosen = np.full(tonnes.size, -1, dtype=np.intp)
    for i, mass in enumerate(tonnes):
        able = allowed[i] & stands & (room >= mass - 1e-9) & ~np.isnan(net_per_t[i])
        first = able & contract & (p_makes_it[i] >= 0.5)
        pool = first if first.any() else able
        if not pool.any():
            continue
        chosen[i] = int(np.argmax(np.where(pool, net_per_t[i], -math.inf)))
        room[chosen[i]] -= mass
    return Filled(chosen, room)
