"""What the bath boils at, from a pressure or an elevation."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from lodestarch.common.errors import OutOfRange
from lodestarch.common.findings import Finding, Severity, Value, Where, of_range
from lodestarch.common.nomenclature import legal_range
from lodestarch.common.units import HPA_PER, METRES_PER, to_hpa, to_metres
from lodestarch.method.bath import (
    boiling_point_c,
    pressure_findings,
    pressure_from_elevation_hpa,
    station_from_sea_level_hpa,
)

__all__ = ["BathAnswer", "bath_for", "read_height", "read_quantity"]

_QUANTITY: Final = re.compile(r"^\s*([+-]?\d+(?:[.,]\d+)?)\s*([A-Za-z]*)\s*$")


@dataclass(frozen=True, slots=True)
class BathAnswer:
    """Boiling temperature with the pressure it stands for.

    ``stated_as`` is *station pressure*, *sea-level pressure* or *elevation*; ``None`` results come with
    findings that say why.
    """

    boiling_c: float | None
    pressure_hpa: float | None
    stated_as: str
    elevation_m: float | None
    findings: tuple[Finding, ...]


def read_quantity(text: str, units: tuple[str, ...]) -> tuple[float, str] | None:
    """Read ``908 hPa`` or ``3000ft``; ``None`` where the text is no number with one of the units."""
    match = _QUANTITY.match(text)
    if match is None:
        return None
    by_fold = {u.casefold(): u for u in units}
    unit = by_fold.get(match[2].casefold())
    return None if unit is None else (float(match[1].replace(",", ".")), unit)


def bath_for(place: str, *, elevation: str | None = None, pressure_is: str | None = None) -> BathAnswer:
    """Answer for a typed pressure or elevation.

    Parameters
    ----------
    place : str
        A pressure (``908 hPa``, ``26.8 inHg``, ``681 mmHg``) or an elevation (``914 m``, ``3000 ft``).
    elevation : str or None
        Elevation of the bench, to tell a pressure that was reduced to sea level.
    pressure_is : str or None
        ``station`` or ``sea-level``, where somebody knows; a sea-level pressure needs the elevation.
    """
    height, found = _height(elevation)
    read = read_quantity(place, (*HPA_PER, *METRES_PER))
    if read is None:
        values: dict[str, Value] = {"value": place, "units": ", ".join((*HPA_PER, *METRES_PER))}
        found = (*found, Finding("quantity-unreadable", Where(field="place"), Severity.STOP, values))
        return BathAnswer(None, None, "", height, found)
    value, unit = read
    try:
        if unit in METRES_PER:
            own = to_metres(value, unit)
            pressure = pressure_from_elevation_hpa(own)
            return BathAnswer(boiling_point_c(pressure), pressure, "elevation", own, found)
        pressure, stated = to_hpa(value, unit), "station pressure"
        if pressure_is == "sea-level":
            if height is None:
                missing = Finding("elevation-needed", Where(field="elevation"), Severity.STOP, {})
                return BathAnswer(None, None, "sea-level pressure", None, (*found, missing))
            pressure, stated = station_from_sea_level_hpa(pressure, height), "sea-level pressure"
        known = pressure_is is not None
        where = Where(field="pressure_hpa")
        found = (*found, *pressure_findings(pressure, height, where, known_station=known))
        return BathAnswer(boiling_point_c(pressure), pressure, stated, height, found)
    except OutOfRange as cause:
        if not any(f.severity is Severity.STOP for f in found):
            found = (*found, of_range(cause, Where(field=cause.name)))
        return BathAnswer(None, None, "", height, found)


def read_height(text: str | None) -> float | None:
    """Read an elevation as typed, in metres; ``None`` stays ``None``.

    Raises
    ------
    ValueError
        When the text is no legal elevation with a unit.
    """
    height, found = _height(text)
    if found:
        raise ValueError(f"{text!r} is not an elevation with its unit, such as 520m or 1700ft")
    return height


def _height(elevation: str | None) -> tuple[float | None, tuple[Finding, ...]]:
    if elevation is None:
        return None, ()
    read = read_quantity(elevation, tuple(METRES_PER))
    low, high = legal_range("elevation_m")
    if read is None or not low <= to_metres(*read) <= high:
        values: dict[str, Value] = {"value": elevation, "units": ", ".join(METRES_PER)}
        return None, (Finding("quantity-unreadable", Where(field="elevation"), Severity.STOP, values),)
    return to_metres(*read), ()
