"""Seconds per unit of an input, from up to three sources: own data, the mass slope, the tube model.

Own data come first. Where sources differ the range between them is kept and shown: a budget made with the
least and with the largest of them says how much the choice matters.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from lodestarch.common.errors import OutOfRange
from lodestarch.common.nomenclature import require_legal
from lodestarch.common.provenance import Provenance

__all__ = [
    "MASS_EXPONENT",
    "MASS_FLOOR_S",
    "Chosen",
    "Sensitivity",
    "choose_sensitivity",
    "mass_slope",
    "moisture_slope",
    "pressure_slope",
    "water_slope",
]

MASS_EXPONENT: Final = 1.86
"""FN above a floor of 60 s goes as portion mass to this power [1]. Derived from one pair of means on flour:
350 s at 7 g falls to 215 s at 5 g (published: Finney 2001, Cereal Chem. 78:485-487). One pair, flour not
meal, one level: for ranking and warnings, never for correcting a result."""
MASS_FLOOR_S: Final = 60.0
"""Floor of that power law [s]: the stirring time."""
_PORTION_G: Final = 7.0
_WATER_ML: Final = 25.0
_DRY_PCT: Final = 88.0
_PRESSURE_SHARE_PER_HPA: Final = -0.00087
"""Relative change of a reading per hPa [1/hPa]. Derived: "more than 30 units" at 3,000 ft (published:
Delwiche 2019, Cereal Foods World 64(2)) over 105 hPa, on a reading near 330 s, which is not stated there.
A rough size, never the official correction."""

_RANK: Final = {
    Provenance.MEASURED_HERE: 0,
    Provenance.ENTERED_BY_LAB: 1,
    Provenance.PUBLISHED: 2,
    Provenance.SECONDARY_COPY: 3,
    Provenance.DERIVED: 4,
    Provenance.COMMON_PRACTICE: 5,
    Provenance.RECALLED: 6,
    Provenance.INVENTED: 7,
}


@dataclass(frozen=True, slots=True)
class Sensitivity:
    """Change of the reading per unit of one input.

    Parameters
    ----------
    value : float
        Seconds per unit of the input; the sign counts.
    per : str
        Unit of the input.
    source : str
        Kebab-case name: ``own-data``, ``mass-slope``, ``tube-model``, ...
    provenance : Provenance
    u : float or None
        Its standard uncertainty; ``None``: not evaluated.
    """

    value: float
    per: str
    source: str
    provenance: Provenance
    u: float | None = None

    def __post_init__(self) -> None:
        if not math.isfinite(self.value):
            raise OutOfRange("sensitivity", self.value, -math.inf, math.inf, f"s/{self.per}")


@dataclass(frozen=True, slots=True)
class Chosen:
    """The sensitivity in use, and what the others say.

    Parameters
    ----------
    used : Sensitivity
    least, most : float
        Smallest and largest absolute value among all sources. [s per unit]
    sources : tuple of Sensitivity
        All, in order of rank.
    """

    used: Sensitivity
    least: float
    most: float
    sources: tuple[Sensitivity, ...]


def choose_sensitivity(sources: Sequence[Sensitivity]) -> Chosen:
    """Take own data first, then what the lab entered, then published, derived and recalled values.

    Parameters
    ----------
    sources : sequence of Sensitivity
        At least one, all per the same unit. Among equals the first given is used.

    Raises
    ------
    OutOfRange
        When there is none, or the units differ.
    """
    if not sources or len({s.per for s in sources}) != 1:
        raise OutOfRange("sources of one unit", len({s.per for s in sources}), 1, 1, "1")
    ranked = tuple(sorted(sources, key=lambda s: _RANK[s.provenance]))
    sizes = [abs(s.value) for s in sources]
    return Chosen(ranked[0], min(sizes), max(sizes), ranked)


def mass_slope(fn_s: float) -> Sensitivity:
    """Seconds per gram of portion at 7 g.

    Notes
    -----
    1.86 (FN - 60)/7.

    Examples
    --------
    >>> round(mass_slope(300.0).value, 1)
    63.8
    """
    above = require_legal("seconds", fn_s) - MASS_FLOOR_S
    return Sensitivity(MASS_EXPONENT * above / _PORTION_G, "g", "mass-slope", Provenance.DERIVED)


def moisture_slope(fn_s: float) -> Sensitivity:
    """Seconds per point of moisture read too high, where the portion follows the moisture.

    Notes
    -----
    1.86 (FN - 60)/88 near 12 %: a point read too high weighs in about 1/88 more mass.

    Examples
    --------
    >>> round(moisture_slope(300.0).value, 1)
    5.1
    """
    above = require_legal("seconds", fn_s) - MASS_FLOOR_S
    return Sensitivity(MASS_EXPONENT * above / _DRY_PCT, "%", "mass-slope", Provenance.DERIVED)


def water_slope(fn_s: float) -> Sensitivity:
    """Seconds per millilitre of water, if concentration is what matters (untested).

    Examples
    --------
    >>> round(0.2 * water_slope(300.0).value, 1)
    -3.6
    """
    above = require_legal("seconds", fn_s) - MASS_FLOOR_S
    return Sensitivity(-MASS_EXPONENT * above / _WATER_ML, "mL", "mass-slope", Provenance.DERIVED)


def pressure_slope(fn_s: float) -> Sensitivity:
    """Seconds per hPa of station pressure, rough size only.

    Examples
    --------
    >>> round(10.0 * pressure_slope(330.0).value, 1)
    -2.9
    """
    share = _PRESSURE_SHARE_PER_HPA * require_legal("seconds", fn_s)
    return Sensitivity(share, "hPa", "rough-pressure", Provenance.DERIVED)
