"""The bath: boiling temperature from station pressure, pressure from elevation."""

from __future__ import annotations

from typing import Final

import numpy as np

from lodestarch.common.arrays import Floats, as_array, like
from lodestarch.common.errors import OutOfRange
from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.common.nomenclature import legal_range

__all__ = [
    "STANDARD_HPA",
    "boiling_point_c",
    "elevation_from_pressure_m",
    "pressure_findings",
    "pressure_from_elevation_hpa",
    "station_from_sea_level_hpa",
]

STANDARD_HPA: Final = 1013.25
"""Standard atmosphere [hPa], exact by definition."""

# Coefficients of the backward equation for the saturation line, region 4. Published: IAPWS R7-97(2012),
# Revised Release on the IAPWS Industrial Formulation 1997, table 34; typed from memory (recalled) and
# compared digit by digit with an independent implementation in the tests.
_N: Final = (
    0.11670521452767e4, -0.72421316703206e6, -0.17073846940092e2, 0.12020824702470e5, -0.32325550322333e7,
    0.14915108613530e2, -0.48232657361591e4, 0.40511340542057e6, -0.23855557567849, 0.65017534844798e3,
)  # fmt: skip

# Standard atmosphere below 11 km (ISO 2533:1975, recalled): lapse 0.0065 K/m, 288.15 K at sea level, and
# the exponent g0 M/(R L) from g0 = 9.80665, M = 0.0289644, R = 8.31432 as that standard has them.
_LAPSE_K_M: Final = 0.0065
_T0_K: Final = 288.15
_EXPONENT: Final = 9.80665 * 0.0289644 / (8.31432 * _LAPSE_K_M)

_WEATHER_HPA: Final = 40.0
"""How far weather and a rough elevation move station pressure from the standard one before somebody should
look [hPa]: 4 kPa, a rule of the project's reference on methods (derived)."""


def boiling_point_c(pressure_hpa: Floats) -> Floats:
    """Boiling temperature of water at a station pressure.

    Parameters
    ----------
    pressure_hpa : float or ndarray
        Absolute pressure at the bench. [hPa]  Legal 600 to 1080.

    Returns
    -------
    float or ndarray
        Temperature, same shape. [°C]

    Raises
    ------
    OutOfRange
        When a pressure lies outside the legal range.

    Notes
    -----
    Saturation temperature by the backward equation, Eq. (31) of [1]_. Salts, depth of the bath and hot
    spots are not in it; add nothing to a bath to shift its boiling point (recalled).

    References
    ----------
    .. [1] IAPWS R7-97(2012), Revised Release on the IAPWS Industrial Formulation 1997 for the Thermodynamic
       Properties of Water and Steam.

    Examples
    --------
    >>> round(boiling_point_c(1013.25), 2), round(boiling_point_c(908.1), 2)
    (99.97, 96.93)
    """
    p = as_array(pressure_hpa)
    low, high = legal_range("pressure_hpa")
    bad = p[~((p >= low) & (p <= high))]
    if bad.size:
        raise OutOfRange("pressure_hpa", float(bad.flat[0]), low, high, "hPa")
    n = _N
    beta = (p * 1e-4) ** 0.25  # fourth root of MPa
    e = beta * beta + n[2] * beta + n[5]
    f = n[0] * beta * beta + n[3] * beta + n[6]
    g = n[1] * beta * beta + n[4] * beta + n[7]
    d = 2.0 * g / (-f - np.sqrt(f * f - 4.0 * e * g))
    kelvin = (n[9] + d - np.sqrt((n[9] + d) ** 2 - 4.0 * (n[8] + n[9] * d))) / 2.0
    return like(pressure_hpa, np.asarray(kelvin - 273.15))


def pressure_from_elevation_hpa(elevation_m: Floats) -> Floats:
    """Pressure of the standard atmosphere at an elevation.

    Parameters
    ----------
    elevation_m : float or ndarray
        Height above sea level. [m]  Legal -430 to 4200.

    Returns
    -------
    float or ndarray
        Pressure, same shape. [hPa]

    Raises
    ------
    OutOfRange
        When an elevation lies outside the legal range.

    Notes
    -----
    p = 1013.25 (1 - 0.0065 h/288.15)^5.25588, standard atmosphere (ISO 2533:1975, recalled).

    Examples
    --------
    >>> round(pressure_from_elevation_hpa(914.4), 1)
    908.1
    """
    h = as_array(elevation_m)
    low, high = legal_range("elevation_m")
    bad = h[~((h >= low) & (h <= high))]
    if bad.size:
        raise OutOfRange("elevation_m", float(bad.flat[0]), low, high, "m")
    return like(elevation_m, np.asarray(STANDARD_HPA * (1.0 - _LAPSE_K_M * h / _T0_K) ** _EXPONENT))


def elevation_from_pressure_m(pressure_hpa: Floats) -> Floats:
    """Elevation at which the standard atmosphere has a pressure; the inverse of the above. [m]"""
    p = as_array(pressure_hpa)
    low, high = legal_range("pressure_hpa")
    bad = p[~((p >= low) & (p <= high))]
    if bad.size:
        raise OutOfRange("pressure_hpa", float(bad.flat[0]), low, high, "hPa")
    return like(
        pressure_hpa, np.asarray((1.0 - (p / STANDARD_HPA) ** (1.0 / _EXPONENT)) * _T0_K / _LAPSE_K_M)
    )


def station_from_sea_level_hpa(sea_level_hpa: Floats, elevation_m: float) -> Floats:
    """Station pressure from a broadcast one that was reduced to sea level.

    Parameters
    ----------
    sea_level_hpa : float or ndarray
        Broadcast pressure or altimeter setting. [hPa]
    elevation_m : float
        Elevation of the bench. [m]  Legal -430 to 4200.

    Notes
    -----
    The altimeter reduction: the standard atmosphere is shifted in height until it has the broadcast pressure
    at sea level. A meteorological reduction also uses the air temperature; the two differ by a few hPa at
    1000 m, so a barometer at the bench is better than either.

    Examples
    --------
    >>> round(station_from_sea_level_hpa(1013.25, 914.4), 1)
    908.1
    """
    power = 1.0 / _EXPONENT
    q = as_array(sea_level_hpa)
    ratio = as_array(pressure_from_elevation_hpa(elevation_m)) / STANDARD_HPA
    shifted = (q / STANDARD_HPA) ** power - (1.0 - ratio**power)
    return like(sea_level_hpa, np.asarray(STANDARD_HPA * shifted**_EXPONENT))


def pressure_findings(
    pressure_hpa: float, elevation_m: float | None, where: Where, *, known_station: bool = False
) -> list[Finding]:
    """Look at a typed pressure beside the lab's elevation.

    Parameters
    ----------
    pressure_hpa : float
        As typed, converted to hPa.
    elevation_m : float or None
        Elevation of the lab, where it is set up.
    where : Where
        Place of the value.
    known_station : bool
        True where somebody has said that this is station pressure.

    Returns
    -------
    list of Finding
        ``pressure-illegal`` (stop); ``pressure-looks-reduced`` (check) where it fits sea level and not the
        bench; ``pressure-elevation-disagree`` (check); ``pressure-which`` (check) where a reduced pressure
        cannot be told from a station one by looking, and nobody has said which it is: always below about
        340 m, and higher up where the value fits both the bench and sea level.
    """
    low, high = legal_range("pressure_hpa")
    if not low <= pressure_hpa <= high:
        values = {"pressure_hpa": pressure_hpa, "low_hpa": low, "high_hpa": high}
        return [Finding("pressure-illegal", where, Severity.STOP, values)]
    if elevation_m is None:
        return []
    expected = pressure_from_elevation_hpa(elevation_m)
    values = {"pressure_hpa": pressure_hpa, "expected_hpa": expected, "elevation_m": elevation_m}
    if abs(pressure_hpa - expected) > _WEATHER_HPA:
        reduced = abs(pressure_hpa - STANDARD_HPA) <= _WEATHER_HPA
        code = "pressure-looks-reduced" if reduced else "pressure-elevation-disagree"
        return [Finding(code, where, Severity.CHECK, values)]
    both_fit = min(abs(p - STANDARD_HPA) for p in (expected, pressure_hpa)) <= _WEATHER_HPA
    if both_fit and not known_station and abs(expected - STANDARD_HPA) > 2.0:
        # Within 2 hPa of sea level (about 17 m) the reduction changes nothing that matters.
        return [Finding("pressure-which", where, Severity.CHECK, values)]
    return []
