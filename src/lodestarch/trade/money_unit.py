"""Units in which money is stated: so much by bushel, tonne, hundredweight, mile, kilometre, load, test."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

__all__ = [
    "BY_DISTANCE",
    "BY_MASS",
    "PER",
    "POUNDS_PER_BUSHEL",
    "POUND_KG",
    "MoneyUnit",
    "amount_per_tonne",
    "kg_in",
    "parse_money_unit",
]

BY_MASS: Final = ("bu", "t", "cwt")
BY_DISTANCE: Final = ("mi", "km")
PER: Final = (*BY_MASS, *BY_DISTANCE, "load", "test")
"""What an amount can be for: bushel, tonne (1000 kg), hundredweight (100 lb), loaded distance, load, test."""

POUND_KG: Final = 0.45359237
"""Mass of a pound. [kg]  Exact by definition."""

POUNDS_PER_BUSHEL: Final[dict[str, float]] = {
    "wheat": 60.0,
    "durum": 60.0,
    "rye": 56.0,
    "maize": 56.0,
    "barley": 48.0,
    "oats": 32.0,
}
"""Legal weight of a bushel, by material. [lb]  Read in a secondary copy; durum is a class of wheat in the
United States."""

_FORM: Final = re.compile(r"^([A-Z]{3}|ct)/([a-z]+)$")


@dataclass(frozen=True, slots=True)
class MoneyUnit:
    """An amount of money for something.

    Parameters
    ----------
    currency : str
        ISO 4217 code.
    hundredths : bool
        The amount is in hundredths of the currency.
    per : str
        One of :data:`PER`.
    """

    currency: str
    hundredths: bool
    per: str

    def __str__(self) -> str:
        return f"{'ct' if self.hundredths else self.currency}/{self.per}"


def parse_money_unit(text: str, currency: str) -> MoneyUnit | None:
    """Return the unit that a text names in a file of one currency; ``None`` where it names none.

    Examples
    --------
    >>> parse_money_unit("ct/bu", "USD")
    MoneyUnit(currency='USD', hundredths=True, per='bu')
    >>> parse_money_unit("bushels", "USD") is None
    True
    """
    match = _FORM.match(text)
    if match is None or match[2] not in PER:
        return None
    hundredths = match[1] == "ct"
    return MoneyUnit(currency if hundredths else match[1], hundredths, match[2])


def kg_in(per: str, material: str | None) -> float | None:
    """Mass for which an amount by mass is paid. [kg]

    Parameters
    ----------
    per : str
        One of :data:`BY_MASS`.
    material : str or None
        Key of :data:`POUNDS_PER_BUSHEL`, needed for a bushel.

    Returns
    -------
    float or None
        ``None`` where ``per`` is no mass, or a bushel of a material without a legal weight.

    Examples
    --------
    >>> kg_in("bu", "wheat"), kg_in("cwt", None), kg_in("bu", None) is None
    (27.2155422, 45.359237, True)
    """
    if per == "t":
        return 1000.0
    if per == "cwt":
        return 100.0 * POUND_KG
    pounds = POUNDS_PER_BUSHEL.get(material or "") if per == "bu" else None
    return None if pounds is None else pounds * POUND_KG


def amount_per_tonne(amount: float, unit: MoneyUnit, material: str | None) -> float | None:
    """Amount of the whole currency for a tonne; ``None`` where its unit is no mass of that material.

    Examples
    --------
    25 hundredths by bushel of wheat:

    >>> round(amount_per_tonne(25.0, MoneyUnit("USD", True, "bu"), "wheat"), 2)
    9.19
    """
    kg = kg_in(unit.per, material)
    if kg is None:
        return None
    return amount * (0.01 if unit.hundredths else 1.0) * 1000.0 / kg
