"""The loading sheet: for each blend which gates, in which ratio and order, and where to look.

Values only; the sentences are made elsewhere.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from lodestarch.method.liquefaction import fn_from_ln, ln_from_fn
from lodestarch.plan.allocate.blend_value import BlendValue
from lodestarch.plan.allocate.plan import Plan
from lodestarch.plan.allocate.problem import FN, PlanOffer, PlanProblem
from lodestarch.plan.allocate.scale import bin_on_scale
from lodestarch.trade.money_unit import kg_in

__all__ = ["LoadingLine", "LoadingSheet", "loading_sheets", "ratio_of"]

_MOST_PARTS: Final = 100
"""Parts of a ratio at most: gates are set by marks, not by per cent (common practice)."""
_CLOSE: Final = 0.005
"""A ratio is close enough when no share is off by more."""
_STEP_OFF_T: Final = 1e-4
_CLOSE_S: Final = 0.05
"""The blend of a ratio may read this much under the aim. [s]"""


@dataclass(frozen=True, slots=True)
class LoadingLine:
    """One gate.

    Parameters
    ----------
    order : int
        From 1: the largest share first.
    bin_id : str
    tonnes, share : float
        [t], of the blend [1]
    bushels : float or None
        ``None`` where the material does not say what a bushel weighs.
    parts : int
        In the ratio.
    steps : int or None
        Steps of the gate; ``None`` where the bin states no step, or a settled draw is none.
    from_t, to_t : float
        Marks where one gate closes and the next opens, if they run one after the other. [t]
    """

    order: int
    bin_id: str
    tonnes: float
    share: float
    bushels: float | None
    parts: int
    from_t: float
    to_t: float
    steps: int | None


@dataclass(frozen=True, slots=True)
class LoadingSheet:
    """One blend as it is loaded.

    Parameters
    ----------
    offer_id : str
    tonnes : float
        [t]
    loads : int or None
        Trucks or cars; ``None`` where the size of a load is not stated.
    lines : tuple of LoadingLine
    ratio_fn_s : float or None
        What the blend is computed to read when the gates run in the ratio instead of the exact tonnes. [s]
    ratio_keeps : bool or None
        Whether that is still at the aim; ``None`` without a limit in seconds.
    look_at_t : tuple of float
        Where to pull a sample: a quarter, half and three quarters of the blend. [t]
    aim_s, stop_s : float or None
        What the sample should read here, and below which loading stops: the deciding lab is then likelier
        than not to find the limit missed. [s]
    """

    offer_id: str
    tonnes: float
    loads: int | None
    lines: tuple[LoadingLine, ...]
    ratio_fn_s: float | None
    ratio_keeps: bool | None
    look_at_t: tuple[float, ...]
    aim_s: float | None
    stop_s: float | None


def ratio_of(
    shares: Sequence[float], values: Sequence[float] = (), most: float = math.inf
) -> tuple[int, ...]:
    """Return small whole parts close to shares, on the safe side of a limit where one is given.

    Parameters
    ----------
    shares : sequence of float
        Summing to 1.
    values : sequence of float
        LN of the lots; empty: not known.
    most : float
        LN that the blend of the parts may have at most.

    Examples
    --------
    >>> ratio_of([0.53, 0.42, 0.05])
    (10, 8, 1)
    >>> ratio_of([0.75, 0.25]), ratio_of([1.0])
    ((3, 1), (1,))

    A small share of a low lot is not rounded up beyond what the limit bears:

    >>> ratio_of([0.98, 0.02], [20.0, 60.0], 20.9)
    (44, 1)
    """
    best: tuple[bool, float, tuple[int, ...]] = (True, math.inf, ())
    for n in range(1, _MOST_PARTS + 1):
        parts = tuple(max(round(s * n), 1) for s in shares)
        whole = sum(parts)
        off = max(abs(p / whole - s) for p, s in zip(parts, shares, strict=True))
        over = bool(values) and sum(p * v for p, v in zip(parts, values, strict=True)) / whole > most
        if off <= _CLOSE and not over:
            return parts
        best = min(best, (over, off, parts))
    return best[2]


def loading_sheets(
    problem: PlanProblem, plan: Plan, blends: Sequence[BlendValue]
) -> tuple[LoadingSheet, ...]:
    """Return a sheet for every blend of a plan."""
    offers = {o.id: o for o in problem.offers}
    return tuple(_sheet(problem, plan, offers[b.offer_id], b) for b in blends)


def _sheet(problem: PlanProblem, plan: Plan, offer: PlanOffer, blend: BlendValue) -> LoadingSheet:
    draws = sorted((d for d in plan.draws if d.offer_id == offer.id), key=lambda d: -d.tonnes)
    bins = {b.id: b for b in problem.bins}
    shares = [d.tonnes / blend.tonnes for d in draws]
    values = [bin_on_scale(bins[d.bin_id], FN, problem) for d in draws]
    known = [v.value for v in values if v is not None]
    floor = next((v for v in blend.limits if v.factor == FN and v.at_least), None)
    goal = math.inf if floor is None else ln_from_fn(floor.aim - _CLOSE_S)
    parts = ratio_of(shares, known if len(known) == len(draws) else (), goal)
    lines, mark = [], 0.0
    for order, (draw, share, part) in enumerate(zip(draws, shares, parts, strict=True), 1):
        kg = kg_in("bu", bins[draw.bin_id].material)
        bushels = None if kg is None else 1000.0 * draw.tonnes / kg
        steps = _steps(draw.tonnes, bins[draw.bin_id].gate_step_t)
        end = mark + draw.tonnes
        lines.append(LoadingLine(order, draw.bin_id, draw.tonnes, share, bushels, part, mark, end, steps))
        mark += draw.tonnes
    ratio_s = None
    if len(known) == len(draws):
        ratio_s = fn_from_ln(sum(p * v for p, v in zip(parts, known, strict=True)) / sum(parts))
    return LoadingSheet(
        offer_id=offer.id,
        tonnes=blend.tonnes,
        loads=None if not offer.load_t else math.ceil(blend.tonnes / offer.load_t - 1e-9),
        lines=tuple(lines),
        ratio_fn_s=ratio_s,
        ratio_keeps=None if floor is None or ratio_s is None else ratio_s >= floor.aim - _CLOSE_S,
        look_at_t=() if floor is None else tuple(blend.tonnes * q for q in (0.25, 0.5, 0.75)),
        aim_s=None if floor is None else floor.aim,
        stop_s=None if floor is None else floor.even,
    )


def _steps(tonnes: float, step_t: float | None) -> int | None:
    """How many steps of a gate a draw is, where it is a whole number of them."""
    if not step_t:
        return None
    steps = round(tonnes / step_t)
    return steps if abs(tonnes - steps * step_t) <= _STEP_OFF_T else None
