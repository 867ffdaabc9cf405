"""Units in which money is stated: so much by bushel, tonne, hundredweight, mile, kilometre, load, test."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

__all__ = ["BY_DISTANCE", "BY_MASS", "PER", "POUNDS_PER_BUSHEL", "POUND_KG", "MoneyUnit", "parse_money_unit"]

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
