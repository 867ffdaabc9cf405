"""How fast the slurry warms: a band over film coefficients, because nobody has measured it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from lodestarch.common.arrays import FloatArray
from lodestarch.common.findings import Finding
from lodestarch.common.provenance import Provenance
from lodestarch.tube.history import run
from lodestarch.tube.inputs import TubeInputs
from lodestarch.tube.parameters import ParameterSet
from lodestarch.tube.standing import Limit
from lodestarch.tube.trust import limits_of, with_limits

__all__ = ["FILMS", "Heating", "HeatingCurve", "heating"]

FILMS: Final[tuple[tuple[str, float, float], ...]] = (
    ("poor", 1500.0, 500.0),
    ("as the set has them", 0.0, 0.0),
    ("good", 6000.0, 4000.0),
    ("perfect", 1e9, 1e9),
)
"""Films outside and inside in W/(m² K), from a poor one to where only glass and slurry resist."""


@dataclass(frozen=True, slots=True)
class HeatingCurve:
    """One heating curve.

    Parameters
    ----------
    films : str
        Which films.
    outer_w_m2k, inner_w_m2k : float
        Their coefficients. [W/(m² K)]
    time_s, mean_c, centre_c : ndarray
        Since lowering [s]; volume mean and axis [°C].
    """

    films: str
    outer_w_m2k: float
    inner_w_m2k: float
    time_s: FloatArray
    mean_c: FloatArray
    centre_c: FloatArray


@dataclass(frozen=True, slots=True)
class Heating:
    """Heating curves, from the slowest to the fastest."""

    curves: tuple[HeatingCurve, ...]
    findings: tuple[Finding, ...]
    limits: tuple[Limit, ...]


def heating(
    inputs: TubeInputs, params: ParameterSet, *, until_s: float = 360.0, step_s: float = 1.0
) -> Heating:
    """Heating curves of one tube over film coefficients.

    Examples
    --------
    >>> from lodestarch.tube.parameters import shipped_set
    >>> out = heating(TubeInputs(activity=0.0), shipped_set())
    >>> [round(float(c.mean_c[c.time_s <= 60.0][-1])) for c in out.curves]
    [63, 79, 87, 93]
    """
    limits = with_limits(limits_of(inputs, params), Limit.HEAT_UNMEASURED)
    # Enzyme-free and stiff, so that the fall does not end the curve early.
    stiff = params.replaced(params.name, {"paste_time_s": 1e6}, Provenance.DERIVED, "heating alone")
    curves = []
    for name, outer, inner in FILMS:
        films = {"film_outer_w_m2k": outer, "film_inner_w_m2k": inner}
        own = stiff.replaced(params.name, films, Provenance.DERIVED, "bound") if outer else stiff
        outcome = run(replace(inputs, ln=None, activity=0.0), own, step_s=step_s, until_s=until_s)
        if outcome.history is None:
            return Heating((), outcome.findings, limits)
        h = outcome.history
        curves.append(
            HeatingCurve(
                name, own["film_outer_w_m2k"], own["film_inner_w_m2k"], h.time_s, h.mean(h.temp_c),
                h.temp_c[:, 0],
            )
        )  # fmt: skip
    return Heating(tuple(curves), (), limits)
