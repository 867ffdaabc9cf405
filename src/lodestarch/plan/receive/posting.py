"""The rule as it can be posted on the wall: which loads are tested, and which numbers go into which bin."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from lodestarch.plan.receive.desk import Desk, Mode
from lodestarch.plan.receive.envelope import Envelope
from lodestarch.plan.receive.loads import Load
from lodestarch.plan.receive.worth import gain_of_result

__all__ = ["BinRange", "Posted", "posted"]

STEP_S = 5.0
"""Posted numbers are whole multiples of this. [s]  A choice of ours: a rule has to be read from a truck."""


@dataclass(frozen=True, slots=True)
class BinRange:
    """Numbers that go into a bin; ``None``: no end on that side. [s]"""

    bin: str
    from_s: float | None
    to_s: float | None


@dataclass(frozen=True, slots=True)
class Posted:
    """The rule as it stands.

    Parameters
    ----------
    test_from_s, test_to_s : float or None
        A load is tested when its expected number lies between; ``None``: no load is worth a test now. [s]
    tells_nothing : bool
        No test would move any load to another bin: commingling costs nothing here.
    new_fields : bool
        The first load of a field of which nothing is known is tested.
    bins : tuple of BinRange
        From the soundest down.
    loads_until_renewed : int
        Loads until the rule is set anew.
    """

    test_from_s: float | None
    test_to_s: float | None
    tells_nothing: bool
    new_fields: bool
    bins: tuple[BinRange, ...]
    loads_until_renewed: int


def posted(desk: Desk, load_t: float | None = None) -> Posted:
    """Return the rule of a desk, rounded so that it can be posted.

    Parameters
    ----------
    desk : Desk
    load_t : float, optional
        Load for which the tested range holds; the season's mean otherwise. [t]
    """
    tonnes = load_t or desk.season.load_t
    spread = desk.spread
    inside = spread.load**2 + 0.5 * spread.field**2
    mark = max(desk.mark(), desk.least_worth)
    fn = np.arange(65.0, 600.0, STEP_S)
    worth = np.array([tonnes * _own(desk.lines, float(x), inside, spread.test) for x in fn])
    pays = (worth > 0) & (worth >= mark) & (desk.tests_left > 0)
    low, high = (None, None) if not pays.any() else (float(fn[pays][0]), float(fn[pays][-1]))
    cuts = [6000.0 / c + 50.0 for c in desk.ranges.cuts_ln]
    names = [desk.bins[i].name for i in desk.ranges.order]
    rounded = [STEP_S * round(c / STEP_S) for c in cuts]
    bins = []
    for at, name in enumerate(names):
        top = rounded[at - 1] if at > 0 else None
        bottom = rounded[at] if at < len(rounded) else None
        if not (top is not None and bottom is not None and bottom >= top):
            bins.append(BinRange(name, bottom, top))
    stranger = Load("?posted", tonnes, "?posted", None, day=desk.belief.day)
    found = desk.worth(stranger)
    new = found.held if desk.mode is Mode.HOLD else found.elsewhere
    return Posted(
        low,
        high,
        bool(worth.max() <= 1e-9),
        bool(desk.tests_left > 0 and new > 0 and new >= mark),
        tuple(bins),
        desk.loads_until_renewed,
    )


def _own(lines: Envelope, fn_s: float, variance: float, test_sd: float) -> float:
    mean = math.log(6000.0 / (fn_s - 50.0)) - variance / 2
    return gain_of_result(lines, mean, variance, test_sd)
