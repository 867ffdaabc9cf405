"""How far the inputs of a bench stray, for error budgets and shares of variance."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType

import numpy as np

from lodestarch.common.arrays import FloatArray
from lodestarch.common.errors import OutOfRange, UnknownName
from lodestarch.common.provenance import Provenance
from lodestarch.tube.inputs import LEGAL, UNITS, VARIED

__all__ = ["Bench", "Shape", "Spread", "shipped_bench"]

Shape = str
"""``even``: anywhere within ± the width; ``normal``: the width is a standard deviation; ``relative_even`` and
``relative_normal``: the same, the width being a share of the value."""

_SHAPES = ("even", "normal", "relative_even", "relative_normal")


@dataclass(frozen=True, slots=True)
class Spread:
    """How far one input strays.

    Parameters
    ----------
    key : str
        One of the nine inputs.
    shape : str
        See `Shape`.
    width : float
        Half width or standard deviation, in the unit of the input or as a share of its value.
    provenance : Provenance
        Standing of the width.
    note : str
        What it rests on.

    Raises
    ------
    UnknownName, OutOfRange
        When the input or the shape is unknown, or the width is not above 0 (a share: below 0.5).
    """

    key: str
    shape: Shape
    width: float
    provenance: Provenance
    note: str = ""

    def __post_init__(self) -> None:
        if self.key not in VARIED:
            raise UnknownName("input of the tube", self.key, VARIED)
        if self.shape not in _SHAPES:
            raise UnknownName("shape of a spread", self.shape, _SHAPES)
        most = 0.5 if self.shape.startswith("relative") else LEGAL[self.key][1]
        if not 0.0 < self.width <= most:
            raise OutOfRange(f"spread of {self.key}", self.width, 0.0, most, UNITS[self.key])

    def width_at(self, value: float) -> float:
        """Width in the unit of the input."""
        return self.width * abs(value) if self.shape.startswith("relative") else self.width

    def u_at(self, value: float) -> float:
        """Standard uncertainty in the unit of the input."""
        width = self.width_at(value)
        return width / math.sqrt(3.0) if self.shape.endswith("even") else width

    def draw(self, value: float, uniform: FloatArray) -> FloatArray:
        """Turn numbers between 0 and 1 into values around ``value``, kept within the legal range."""
        from scipy.special import ndtri  # noqa: PLC0415  # SciPy only where shares are computed

        width = self.width_at(value)
        u = np.clip(uniform, 1e-12, 1.0 - 1e-12)
        away = 2.0 * u - 1.0 if self.shape.endswith("even") else ndtri(u)
        return np.clip(value + width * away, *LEGAL[self.key])


@dataclass(frozen=True, slots=True)
class Bench:
    """A bench, as far as its inputs stray.

    Parameters
    ----------
    name : str
        ``shipped``, or the lab's own.
    spreads : mapping of str to Spread
        By input; what is left out does not stray.
    """

    name: str
    spreads: Mapping[str, Spread]


@cache
def shipped_bench() -> Bench:
    """Return the bench that ships: recalled tolerances, and invented ones where none is known.

    Examples
    --------
    >>> {key: round(s.u_at(7.0), 4) for key, s in shipped_bench().spreads.items() if key == "mass_g"}
    {'mass_g': 0.0289}
    """
    text = (files("lodestarch.tube") / "data" / "bench.toml").read_text(encoding="utf-8")
    spreads = {}
    for key, line in tomllib.loads(text).items():
        shape = next(name for name in _SHAPES if name in line)
        spreads[key] = Spread(key, shape, float(line[shape]), Provenance(line["provenance"]), line["note"])
    return Bench("shipped", MappingProxyType(spreads))
