"""How a reading answers to malt."""

from __future__ import annotations

from dataclasses import dataclass

from lodestarch.common.errors import NoAnswer
from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.method.liquefaction import fn_from_ln, ln_from_fn
from lodestarch.tube.curves import activity_for, curve_of, fall_along, law_of
from lodestarch.tube.inputs import LEGAL, TubeInputs
from lodestarch.tube.parameters import ParameterSet
from lodestarch.tube.questions.solve import solve
from lodestarch.tube.standing import Limit
from lodestarch.tube.trust import limits_of, with_limits

__all__ = ["Dose", "Doses", "dose_for", "doses", "malt_activity"]


@dataclass(frozen=True, slots=True)
class Dose:
    """One dose of malt.

    Parameters
    ----------
    share : float
        Malt in the mix, by dry mass. [1]
    activity : float
        Enzyme of the mix, in LN units above enzyme-free. [1]
    seconds, law_s : float
        What the model reads, and what the liquefaction-number law says. [s]
    """

    share: float
    activity: float
    seconds: float
    law_s: float


@dataclass(frozen=True, slots=True)
class Doses:
    """Readings by dose."""

    rows: tuple[Dose, ...]
    findings: tuple[Finding, ...]
    limits: tuple[Limit, ...]


def malt_activity(
    flour_s: float, trial_s: float, share: float, inputs: TubeInputs, params: ParameterSet
) -> float:
    """Enzyme of a malt from one trial dose.

    Parameters
    ----------
    flour_s, trial_s : float
        Readings of the flour alone and with the trial dose. [s]
    share : float
        Trial dose by dry mass. [1]  Above 0, below 1.

    Returns
    -------
    float
        Activity of the malt itself, in LN units. It lies far above anything a tube could read. [1]

    Raises
    ------
    NoAnswer
        Where a reading is out of the set's reach; ``tube-malt-no-effect`` where the trial does not read less.

    Notes
    -----
    Activity mixes by dry mass: A_mix = (1 - d) A_flour + d A_malt.
    """
    if not (0.0 < share < 1.0 and trial_s < flour_s):
        raise NoAnswer("tube-malt-no-effect", flour_s=flour_s, trial_s=trial_s, share=share)
    flour, trial = _both((flour_s, trial_s), inputs, params)
    return (trial - (1.0 - share) * flour) / share


def _both(readings_s: tuple[float, float], inputs: TubeInputs, params: ParameterSet) -> tuple[float, float]:
    free = inputs.with_activity(0.0)
    curve = curve_of(free, params)
    first, second = (activity_for(reading, free, params, curve=curve) for reading in readings_s)
    return first, second


def doses(
    flour_s: float,
    malt_ln: float,
    shares: tuple[float, ...],
    inputs: TubeInputs,
    params: ParameterSet,
) -> Doses:
    """Readings over doses of malt.

    Parameters
    ----------
    flour_s : float
        Reading of the flour alone. [s]
    malt_ln : float
        Activity of the malt by dry mass, in LN units, from ``malt_activity``. [1]
    shares : tuple of float
        Malt in the mix by dry mass. [1]  0 to 1.
    inputs, params
        The tube and the constants; malt decays as the tube's own origin of enzyme does.

    Returns
    -------
    Doses
        ``tube-dose-past-reach`` (check) for doses whose mix is beyond the largest legal activity: left out.

    Notes
    -----
    Malt adds enzyme; that it also is starch of another kind is left out.
    """
    limits = with_limits(limits_of(inputs, params), Limit.NO_MEASUREMENT)
    activities, curve, found = solve((flour_s,), inputs, params, "seconds")
    if found or curve is None:
        return Doses((), found, limits)
    rows = []
    more = []
    flour_ln = ln_from_fn(flour_s)
    for share in shares:
        activity = (1.0 - share) * activities[0] + share * malt_ln
        if not (0.0 <= share <= 1.0 and 0.0 <= activity <= LEGAL["activity"][1]):
            values = {"share": share, "activity": activity, "most": LEGAL["activity"][1]}
            more.append(Finding("tube-dose-past-reach", Where(field="share"), Severity.CHECK, values))
            continue
        at, _ = fall_along(curve, law_of(params, activity, curve.concentration))
        law_s = fn_from_ln((1.0 - share) * flour_ln + share * (malt_ln + params.offset))
        rows.append(Dose(share, activity, at, law_s))
    return Doses(tuple(rows), tuple(more), limits)


def dose_for(
    flour_s: float, target_s: float, malt_ln: float, inputs: TubeInputs, params: ParameterSet
) -> float:
    """Share of malt by dry mass at which the model reads a target. [1]

    Raises
    ------
    NoAnswer
        Where a reading is out of the set's reach; ``tube-malt-no-effect`` where the target is not below the
        flour, or the malt holds too little.

    Examples
    --------
    >>> from lodestarch.tube.parameters import shipped_set
    >>> round(dose_for(380.0, 250.0, 15000.0, TubeInputs(activity=0.0), shipped_set()), 5)
    0.00086
    """
    flour, target = _both((flour_s, target_s), inputs, params)
    share = (target - flour) / (malt_ln - flour) if malt_ln > flour else -1.0
    if not 0.0 <= share <= 1.0:
        raise NoAnswer("tube-malt-no-effect", flour_s=flour_s, trial_s=target_s, share=share)
    return share
