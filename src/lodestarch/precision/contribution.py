"""Lines of an uncertainty budget, as plain values that any room may make.

A line that nobody has evaluated stays in the budget as *not evaluated*; it is never zero.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from lodestarch.common.errors import OutOfRange
from lodestarch.common.nomenclature import require_legal
from lodestarch.common.provenance import Provenance
from lodestarch.method.scatter import ScatterLaw
from lodestarch.precision.distribution import Distribution, Form
from lodestarch.precision.scatter_result import ScatterFit
from lodestarch.precision.sensitivity import Chosen

__all__ = [
    "Contribution",
    "from_law",
    "input_line",
    "not_evaluated",
    "other_lab_line",
    "place_line",
    "storage_line",
    "tube_line",
    "variance_line",
]


@dataclass(frozen=True, slots=True)
class Contribution:
    """One line of a budget.

    Parameters
    ----------
    key : str
        Kebab-case name: ``tube``, ``grinding``, ``sampling``, ``moisture``, ``weighing``, ``water``,
        ``pressure``, ``place``, ``other-lab``, ``storage``.
    u_s : float or None
        Contribution to the standard uncertainty, not negative; ``None``: not evaluated. [s]
    dof : float
        Degrees of freedom; infinity allowed.
    provenance : Provenance
    form : str
        Form of the distribution, for the simulation check.
    shift_s : float
        Known shift that the question carries (another lab, storage); it moves the expected value. [s]
    least_u_s, most_u_s : float or None
        The same contribution with the least and the largest sensitivity among the sources. [s]
    u_input, unit, sensitivity, source : optional
        Input uncertainty, its unit, seconds per unit, and where the sensitivity comes from.
    replicates : float
        Independent repeats that the contribution was averaged over. [1]
    exponent, reference : float or None
        Where the effect is a power law in the input, for the simulation check: the reading above 60 s goes
        as (1 + d/reference)^exponent.
    """

    key: str
    u_s: float | None
    dof: float
    provenance: Provenance
    form: Form = "normal"
    shift_s: float = 0.0
    least_u_s: float | None = None
    most_u_s: float | None = None
    u_input: float | None = None
    unit: str | None = None
    sensitivity: float | None = None
    source: str | None = None
    replicates: float = 1.0
    exponent: float | None = None
    reference: float | None = None

    def __post_init__(self) -> None:
        if self.u_s is not None and not (math.isfinite(self.u_s) and self.u_s >= 0.0):
            raise OutOfRange("u_s", self.u_s, 0.0, math.inf, "s")
        if not self.dof > 0.0:
            raise OutOfRange("dof", self.dof, 0.0, math.inf, "1")


def not_evaluated(key: str) -> Contribution:
    """Keep a line open that nobody has evaluated."""
    return Contribution(key, None, math.inf, Provenance.DERIVED)


def _at_least_one(name: str, n: float) -> float:
    if not (math.isfinite(n) and n >= 1.0):
        raise OutOfRange(name, n, 1.0, math.inf, "1")
    return n


def tube_line(fit: ScatterFit, fn_s: float, tubes: int = 2) -> Contribution:
    """Scatter of the tubes, from the lab's own fit; rounding of the readings is part of it.

    Parameters
    ----------
    fit : ScatterFit
    fn_s : float
        Result. [s]  Legal 60 to 900.
    tubes : int
        Readings in the mean.
    """
    _at_least_one("tubes", tubes)
    return Contribution(
        "tube",
        float(fit.u_s(fn_s, tubes)),
        float(fit.dof(fn_s, tubes)),
        fit.law.provenance,
        form="student",
        source="own-data" if fit.used else "default",
        replicates=float(tubes),
    )


def from_law(law: ScatterLaw, fn_s: float, tubes: int = 2) -> Contribution:
    """Scatter of the tubes from a frozen law, whose parameters are taken as known."""
    _at_least_one("tubes", tubes)
    u = float(law.sd_s(require_legal("seconds", fn_s))) / math.sqrt(tubes)
    return Contribution("tube", u, math.inf, law.provenance, replicates=float(tubes))


def variance_line(
    key: str, sd_s: float, repeats: float, *, dof: float, provenance: Provenance
) -> Contribution:
    """Line of a variance component: grinding over grinds, sampling over probes.

    Parameters
    ----------
    key : str
    sd_s : float
        SD of one repeat. [s]  At least 0.
    repeats : float
        Independent repeats in the result. At least 1.
    dof : float
        Degrees of freedom of the SD.
    provenance : Provenance
    """
    n = _at_least_one(f"repeats of {key}", repeats)
    return Contribution(
        key, sd_s / math.sqrt(n), dof, provenance, form="student", u_input=sd_s, unit="s", replicates=n
    )


def input_line(
    key: str,
    spread: Distribution,
    sensitivity: Chosen,
    *,
    provenance: Provenance,
    repeats: float = 1.0,
    exponent: float | None = None,
    reference: float | None = None,
) -> Contribution:
    """Line of a measured or set input: moisture, weighing, water, pressure.

    Parameters
    ----------
    key : str
    spread : Distribution
        What is known of the input's error: a meter tolerance is ``rectangular``, an SD from repeats
        ``student``. Its centre does not matter.
    sensitivity : Chosen
        Seconds per unit, with the range over the sources.
    provenance : Provenance
        Of the spread: published tolerance, entered by the lab, measured here.
    repeats : float
        1 where one error is shared by all tubes (a meter, a bath); the number of tubes where each has its
        own (a weighing).
    exponent, reference : float, optional
        Power law of the effect, for the simulation check.
    """
    n = _at_least_one(f"repeats of {key}", repeats)
    u_input = spread.u
    scale = u_input / math.sqrt(n)
    return Contribution(
        key,
        abs(sensitivity.used.value) * scale,
        spread.dof,
        provenance,
        form=spread.form if n == 1.0 else ("student" if math.isfinite(spread.dof) else "normal"),
        least_u_s=sensitivity.least * scale,
        most_u_s=sensitivity.most * scale,
        u_input=u_input,
        unit=sensitivity.used.per,
        sensitivity=sensitivity.used.value,
        source=sensitivity.used.source,
        replicates=n,
        exponent=exponent,
        reference=reference,
    )


def place_line(sd_s: float, places: int, *, dof: float, provenance: Provenance) -> Contribution:
    """Spread between positions, stirrers or tubes, over the distinct places that made the result."""
    return variance_line("place", sd_s, places, dof=dof, provenance=provenance)


def other_lab_line(
    sd_s: float,
    *,
    dof: float,
    provenance: Provenance,
    bias_s: float = 0.0,
    u_bias_s: float = 0.0,
) -> Contribution:
    """What another lab adds where the question is about that lab.

    Parameters
    ----------
    sd_s : float
        SD between labs (or of the other lab's own mean from time to time). [s]
    dof : float
        Its degrees of freedom.
    provenance : Provenance
    bias_s, u_bias_s : float
        Known difference *other minus ours* from paired results, and its standard uncertainty. [s]
    """
    u = math.hypot(sd_s, u_bias_s)
    line = variance_line("other-lab", u, 1.0, dof=dof, provenance=provenance)
    return replace(line, shift_s=bias_s)


def storage_line(
    days: float, rate_s_per_day: float, u_rate_s_per_day: float, *, dof: float, provenance: Provenance
) -> Contribution:
    """Drift of stored grain between two dates: warm storage lifts FN.

    Parameters
    ----------
    days : float
        Between our test and the question's date. [d]  At least 0.
    rate_s_per_day, u_rate_s_per_day : float
        Slope and its standard uncertainty. [s/d]
    dof : float
    provenance : Provenance
    """
    if not (math.isfinite(days) and days >= 0.0):
        raise OutOfRange("days", days, 0.0, math.inf, "d")
    return Contribution(
        "storage",
        days * u_rate_s_per_day,
        dof,
        provenance,
        form="student",
        shift_s=days * rate_s_per_day,
        u_input=u_rate_s_per_day,
        unit="s/d",
        sensitivity=days,
    )
