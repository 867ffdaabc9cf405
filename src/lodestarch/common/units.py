"""Conversions at the edge: inside, pressures are hPa, elevations m, masses g, temperatures °C.

Factors are exact by definition unless a source stands beside them.
"""

from __future__ import annotations

from typing import Final

from lodestarch.common.arrays import Floats
from lodestarch.common.errors import UnknownName

__all__ = [
    "HPA_PER",
    "METRES_PER",
    "celsius_to_fahrenheit",
    "fahrenheit_to_celsius",
    "to_hpa",
    "to_metres",
]

HPA_PER: Final[dict[str, float]] = {
    "hPa": 1.0,
    "mbar": 1.0,
    "Pa": 0.01,
    "kPa": 10.0,
    # Conventional inch and millimetre of mercury at 0 °C, g = 9.80665 m/s² (NIST SP 811, B.8;
    # recalled): 3386.389 Pa and 133.3224 Pa.
    "inHg": 33.86389,
    "mmHg": 1.333224,
}
METRES_PER: Final[dict[str, float]] = {"m": 1.0, "ft": 0.3048}  # international foot, exact


def to_hpa(value: Floats, unit: str) -> Floats:
    """Return a pressure in hPa.

    Parameters
    ----------
    value : float or ndarray
        Pressure in ``unit``.
    unit : str
        One of ``hPa``, ``mbar``, ``Pa``, ``kPa``, ``inHg``, ``mmHg``.

    Raises
    ------
    UnknownName
        When the unit is none of these.

    Examples
    --------
    >>> round(to_hpa(29.921, "inHg"), 1)
    1013.2
    """
    if unit not in HPA_PER:
        raise UnknownName("pressure unit", unit, tuple(HPA_PER))
    return value * HPA_PER[unit]


def to_metres(value: Floats, unit: str) -> Floats:
    """Return an elevation in metres from ``m`` or ``ft``.

    Raises
    ------
    UnknownName
        When the unit is neither.

    Examples
    --------
    >>> to_metres(3000.0, "ft")
    914.4000000000001
    """
    if unit not in METRES_PER:
        raise UnknownName("length unit", unit, tuple(METRES_PER))
    return value * METRES_PER[unit]


def celsius_to_fahrenheit(temp_c: Floats) -> Floats:
    """Return °F from °C (exact by definition)."""
    return temp_c * 1.8 + 32.0


def fahrenheit_to_celsius(temp_f: Floats) -> Floats:
    """Return °C from °F (exact by definition)."""
    return (temp_f - 32.0) / 1.8
