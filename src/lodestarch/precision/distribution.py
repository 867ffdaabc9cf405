"""Distributions of input quantities: what a tolerance, a certificate or a mean of readings says."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np

from lodestarch.common.arrays import FloatArray
from lodestarch.common.errors import OutOfRange, UnknownName

__all__ = ["Distribution", "Form"]

Form = Literal["normal", "student", "rectangular", "triangular", "arcsine"]

_U_OVER_WIDTH = {"rectangular": math.sqrt(3.0), "triangular": math.sqrt(6.0), "arcsine": math.sqrt(2.0)}


@dataclass(frozen=True, slots=True)
class Distribution:
    """One input quantity.

    Parameters
    ----------
    form : str
        ``normal`` and ``student`` take the standard uncertainty as width; ``rectangular``, ``triangular``
        and ``arcsine`` take the half-width.
    centre, width : float
        In the unit of the quantity. Width at least 0.
    dof : float
        Degrees of freedom of ``student``; above 2 for a standard deviation to exist.

    Examples
    --------
    >>> round(Distribution("rectangular", 0.0, 0.3).u, 4)
    0.1732
    """

    form: Form
    centre: float
    width: float
    dof: float = math.inf

    def __post_init__(self) -> None:
        if self.form not in get_args(Form):
            raise UnknownName("distribution", self.form, get_args(Form))
        if not (math.isfinite(self.width) and self.width >= 0.0):
            raise OutOfRange("width", self.width, 0.0, math.inf, "unit of the quantity")
        if not self.dof > 0.0:
            raise OutOfRange("dof", self.dof, 0.0, math.inf, "1")

    @property
    def u(self) -> float:
        """Standard uncertainty: the width itself, or the half-width over its root."""
        return self.width / _U_OVER_WIDTH.get(self.form, 1.0)

    def draw(self, rng: np.random.Generator, size: int) -> FloatArray:
        """Draw values; ``student`` is scaled by the standard uncertainty, as GUM-S1 6.4.9 has it."""
        if self.form == "student" and math.isfinite(self.dof):
            unit = rng.standard_t(self.dof, size)
        elif self.form == "rectangular":
            unit = rng.uniform(-1.0, 1.0, size)
        elif self.form == "triangular":
            unit = rng.uniform(-0.5, 0.5, size) + rng.uniform(-0.5, 0.5, size)
        elif self.form == "arcsine":
            unit = np.sin(rng.uniform(-math.pi, math.pi, size))
        else:
            unit = rng.standard_normal(size)
        return np.asarray(self.centre + self.width * unit)
