"""What is left of the sample before, in the mill or on the sieve, and what it does to the next reading."""

from __future__ import annotations

from dataclasses import dataclass

from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.tube.curves import activity_for, fall_along, law_of
from lodestarch.tube.inputs import TubeInputs
from lodestarch.tube.parameters import ParameterSet
from lodestarch.tube.questions.solve import solve
from lodestarch.tube.standing import Limit
from lodestarch.tube.trust import limits_of, with_limits

__all__ = ["CarryOver", "carry_over"]


@dataclass(frozen=True, slots=True)
class CarryOver:
    """A sample after another.

    Parameters
    ----------
    share : float
        Meal of the sample before in this one, by dry mass. [1]
    seconds, shift_s : float or None
        What this one then reads, and how far that is from its own reading. [s]
    allowed_share : float or None
        The share that shifts it by the stated limit; ``None`` where even all of it would not. [1]
    """

    share: float
    seconds: float | None
    shift_s: float | None
    allowed_share: float | None
    findings: tuple[Finding, ...]
    limits: tuple[Limit, ...]


def carry_over(
    before_s: float,
    own_s: float,
    carried_g: float,
    ground_g: float,
    inputs: TubeInputs,
    params: ParameterSet,
    *,
    limit_s: float = 3.0,
) -> CarryOver:
    """What carried-over meal does to a reading.

    Parameters
    ----------
    before_s, own_s : float
        What the sample before, and this one, read by themselves. [s]
    carried_g, ground_g : float
        Meal left behind, and meal of this sample that it mixes with. [g]
    inputs, params
        The tube and the constants.
    limit_s : float
        Shift that still would not matter. [s]  Above 0.

    Returns
    -------
    CarryOver
        ``tube-mass-illegal`` (stop) where carried meal is below 0 or ground meal not above 0;
        ``tube-above-enzyme-free`` or ``tube-below-reach`` (stop) for a reading that the set cannot give.

    Examples
    --------
    >>> from lodestarch.tube.parameters import shipped_set
    >>> out = carry_over(75.0, 350.0, 1.0, 300.0, TubeInputs(activity=0.0), shipped_set())
    >>> round(out.shift_s, 1), round(out.allowed_share, 4)
    (-9.4, 0.001)
    """
    limits = with_limits(limits_of(inputs, params), Limit.NO_MEASUREMENT)
    if not (carried_g >= 0.0 and ground_g > 0.0 and limit_s > 0.0):
        values = {"carried_g": repr(carried_g), "ground_g": repr(ground_g), "limit_s": repr(limit_s)}
        finding = Finding("tube-mass-illegal", Where(field="carried_g"), Severity.STOP, values)
        return CarryOver(0.0, None, None, None, (finding,), limits)
    share = carried_g / (carried_g + ground_g)
    activities, curve, found = solve((before_s, own_s), inputs, params, "seconds")
    if found or curve is None:
        return CarryOver(share, None, None, None, found, limits)
    before, own = activities
    at, _ = fall_along(curve, law_of(params, own + share * (before - own), curve.concentration))
    allowed = None
    edge_s = own_s - limit_s if before > own else own_s + limit_s
    inside = before_s < edge_s < own_s if before > own else own_s < edge_s < before_s
    if inside:
        free = inputs.with_activity(0.0)
        allowed = (activity_for(edge_s, free, params, curve=curve) - own) / (before - own)
    return CarryOver(share, at, at - own_s, allowed, (), limits)
