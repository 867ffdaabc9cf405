"""Blends against the liquefaction-number law, and where that law bends.

In the model enzyme adds by mass exactly; seconds follow from it. The law says that 6000/(FN - 50) adds by
mass. Where the two differ, the law bends, if the model is right: no published series of measured blends is
known that tells.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lodestarch.common.arrays import FloatArray
from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.method.liquefaction import fn_from_ln, ln_from_fn
from lodestarch.tube.curves import fall_along, falls, law_of, stacked
from lodestarch.tube.inputs import TubeInputs
from lodestarch.tube.parameters import ParameterSet
from lodestarch.tube.questions.solve import solve
from lodestarch.tube.standing import Limit
from lodestarch.tube.trust import limits_of, with_limits

__all__ = ["Bend", "BlendReading", "Blends", "bends", "blends"]


@dataclass(frozen=True, slots=True)
class BlendReading:
    """One blend of two.

    Parameters
    ----------
    share : float
        The second in the blend, by dry mass. [1]
    model_s, law_s, mean_s : float
        What the model reads, what the liquefaction-number law says, and the plain average of seconds. [s]
    """

    share: float
    model_s: float
    law_s: float
    mean_s: float


@dataclass(frozen=True, slots=True)
class Blends:
    """Blends of two lots."""

    rows: tuple[BlendReading, ...]
    findings: tuple[Finding, ...]
    limits: tuple[Limit, ...]


def blends(
    first_s: float, second_s: float, shares: tuple[float, ...], inputs: TubeInputs, params: ParameterSet
) -> Blends:
    """Readings of blends of two lots.

    Parameters
    ----------
    first_s, second_s : float
        What each reads by itself. [s]
    shares : tuple of float
        The second in the blend, by dry mass. [1]  0 to 1.
    inputs, params
        The tube (both lots have its paste; only enzyme differs) and the constants.

    Returns
    -------
    Blends
        ``tube-share-illegal`` (stop) for a share outside 0 to 1; ``tube-above-enzyme-free`` or
        ``tube-below-reach`` (stop) for a reading that the set cannot give.

    Examples
    --------
    >>> from lodestarch.tube.parameters import shipped_set
    >>> half = blends(350.0, 150.0, (0.5,), TubeInputs(activity=0.0), shipped_set()).rows[0]
    >>> round(half.model_s), round(half.law_s), round(half.mean_s)
    (204, 200, 250)
    """
    limits = with_limits(limits_of(inputs, params), Limit.NO_MEASUREMENT)
    bad = [share for share in shares if not 0.0 <= share <= 1.0]
    if bad:
        values = {"share": repr(bad[0])}
        finding = Finding("tube-share-illegal", Where(field="share"), Severity.STOP, values)
        return Blends((), (finding,), limits)
    activities, curve, found = solve((first_s, second_s), inputs, params, "seconds")
    if found or curve is None:
        return Blends((), found, limits)
    lns = ln_from_fn(first_s), ln_from_fn(second_s)
    rows = []
    for share in shares:
        activity = (1.0 - share) * activities[0] + share * activities[1]
        at, _ = fall_along(curve, law_of(params, activity, curve.concentration))
        law_s = fn_from_ln((1.0 - share) * lns[0] + share * lns[1])
        rows.append(BlendReading(share, at, law_s, (1.0 - share) * first_s + share * second_s))
    return Blends(tuple(rows), (), limits)


@dataclass(frozen=True, slots=True)
class Bend:
    """Where the law bends by the model.

    Parameters
    ----------
    levels_s : ndarray
        Readings of the lots by themselves. [s]
    most_s : ndarray
        For each pair of levels, the largest difference model less law over all shares. [s]
    at_share : ndarray
        The share of the second at which it stands. [1]
    limits : tuple of Limit
        What this does not know.
    """

    levels_s: FloatArray
    most_s: FloatArray
    at_share: FloatArray
    limits: tuple[Limit, ...]


def bends(
    levels_s: tuple[float, ...], inputs: TubeInputs, params: ParameterSet, *, steps: int = 40
) -> tuple[Bend | None, tuple[Finding, ...]]:
    """Find, for every pair of levels, how far the law and the model part.

    Returns
    -------
    Bend or None, tuple of Finding
        ``None`` with findings where the set cannot read a level.
    """
    activities, curve, found = solve(levels_s, inputs, params, "seconds")
    if found or curve is None:
        return None, found
    n = len(levels_s)
    share = np.linspace(0.0, 1.0, steps + 1)
    a, ln = np.array(activities), ln_from_fn(np.array(levels_s))
    mixed = (1.0 - share) * a[:, None, None] + share * a[None, :, None]
    laws = np.array([law_of(params, x, curve.concentration) for x in mixed.reshape(-1)])
    model = falls(stacked([curve]), np.zeros(laws.shape[0]), laws).seconds.reshape(n, n, steps + 1)
    law = fn_from_ln((1.0 - share) * ln[:, None, None] + share * ln[None, :, None])
    apart = model - law
    where = np.argmax(np.abs(apart), axis=2)
    most = np.take_along_axis(apart, where[..., None], axis=2)[..., 0]
    limits = with_limits(limits_of(inputs, params), Limit.NO_MEASUREMENT)
    return Bend(np.array(levels_s), most, share[where], limits), ()
