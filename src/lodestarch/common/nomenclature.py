"""Symbol, name, unit and legal range of every quantity: one table.

Docs, forms, sheets and messages all read their legal ranges here; ``docs/nomenclature.md`` is
generated from it and a test compares the two.

A legal range bounds what can be a value at all (a slip of the keyboard lies outside it); it is
not what a method allows. Method limits are fields of a profile.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from lodestarch.common.errors import OutOfRange, UnknownName

__all__ = ["QUANTITIES", "Quantity", "legal_range", "quantity", "require_legal"]


@dataclass(frozen=True, slots=True)
class Quantity:
    """One line of the nomenclature.

    Parameters
    ----------
    key : str
        Name in code, sheets and JSON, with its unit as suffix.
    symbol : str
        Symbol in equations.
    name : str
        Name in the trade or in a standard.
    unit : str
        Unit symbol; ``"1"`` for a pure number.
    low, high : float
        Legal range, both ends included.
    meaning : str
        One line.
    """

    key: str
    symbol: str
    name: str
    unit: str
    low: float
    high: float
    meaning: str


_TABLE: Final = (
    Quantity("seconds", "FN", "falling number", "s", 60.0, 900.0,
             "Time from lowering to the end of the stirrer's fall, stirring included. Below the stirring "
             "time a reading is impossible; above 900 s a slip of the keyboard is likelier."),
    Quantity("ln", "LN", "liquefaction number", "1", 6000.0 / 850.0, 600.0,
             "6000/(FN - 50); the scale that adds by mass."),
    Quantity("moisture_pct", "M", "moisture, wet basis", "%", 5.0, 30.0,
             "Mass of water over mass of sample. The window that a method covers is a profile field."),
    Quantity("moisture_basis_pct", "M_b", "moisture basis", "%", 0.0, 20.0,
             "Moisture to which the test portion is referred."),
    Quantity("mass_g", "m", "test portion", "g", 1.0, 20.0, "Mass of meal or flour weighed into a tube."),
    Quantity("water_ml", "V", "water volume", "mL", 10.0, 50.0, "Distilled water added to a tube."),
    Quantity("water_temp_c", "t_w", "water temperature", "°C", 5.0, 40.0,
             "Temperature of the water when added."),
    Quantity("pressure_hpa", "p", "station pressure", "hPa", 600.0, 1080.0,
             "Absolute pressure at the bench, not reduced to sea level."),
    Quantity("elevation_m", "h", "elevation", "m", -430.0, 4200.0, "Height of the bench above sea level."),
    Quantity("bath_temp_c", "t_b", "boiling temperature", "°C", 80.0, 102.0,
             "Boiling temperature of water at the station pressure."),
    Quantity("ground_mass_g", "m_g", "ground mass", "g", 1.0, 5000.0, "Mass of grain ground for the sample."),
    Quantity("tonnes", "T", "mass of a lot", "t", 0.001, 500000.0, "Mass of a load, bin, lot or cargo."),
    Quantity("share", "w", "share by mass", "1", 0.0, 1.0, "Part of a mix by mass at a common moisture."),
    Quantity("cv_pct", "CV", "coefficient of variation", "%", 0.05, 25.0, "Standard deviation over mean."),
    Quantity("u_s", "u", "standard uncertainty", "s", 0.0, 200.0, "Standard uncertainty of a result."),
    Quantity("delay_min", "d", "delay", "min", 0.0, 100000.0, "Time between grinding and lowering."),
)  # fmt: skip

QUANTITIES: Final[dict[str, Quantity]] = {q.key: q for q in _TABLE}


def quantity(key: str) -> Quantity:
    """Return the line of the nomenclature for ``key``.

    Raises
    ------
    UnknownName
        When there is no such line.
    """
    try:
        return QUANTITIES[key]
    except KeyError:
        raise UnknownName("quantity", key, tuple(QUANTITIES)) from None


def legal_range(key: str) -> tuple[float, float]:
    """Return the legal range of ``key`` as (low, high)."""
    line = quantity(key)
    return line.low, line.high


def require_legal(key: str, value: float) -> float:
    """Return ``value`` when it is legal for ``key``.

    Raises
    ------
    OutOfRange
        When it is not, NaN included.
    """
    line = quantity(key)
    if not line.low <= value <= line.high:
        raise OutOfRange(key, value, line.low, line.high, line.unit)
    return value
