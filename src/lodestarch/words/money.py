"""Money in the unit in which the place trades."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from lodestarch.trade.money_unit import kg_in
from lodestarch.trade.terms import Terms
from lodestarch.words.catalogues import DEFAULT_LOCALE, term
from lodestarch.words.numbers import number

__all__ = ["PlaceUnit", "money_whole", "per_unit", "place_unit"]

_SIGNS: Final = {"USD": "$", "CAD": "$", "AUD": "$", "EUR": "€", "GBP": "£"}


@dataclass(frozen=True, slots=True)
class PlaceUnit:
    """The unit in which prices are said at a place.

    Parameters
    ----------
    currency : str
        ISO 4217 code.
    per : str
        ``bu``, ``cwt`` or ``t``.
    kg : float
        Mass of it. [kg]
    """

    currency: str
    per: str
    kg: float

    @property
    def sign(self) -> str:
        """Sign of the currency, or its code."""
        return _SIGNS.get(self.currency, self.currency)

    def of(self, per_t: float) -> float:
        """An amount for a tonne as one for the unit."""
        return per_t * self.kg / 1000.0


def place_unit(terms: Terms) -> PlaceUnit:
    """Return the unit in which the first priced offer is stated; the tonne where none is."""
    for offer in (*terms.contracts, *terms.bids):
        if offer.price is not None:
            kg = kg_in(offer.price.unit.per, offer.material)
            if kg is not None:
                return PlaceUnit(terms.currency, offer.price.unit.per, kg)
    return PlaceUnit(terms.currency, "t", 1000.0)


def per_unit(per_t: float | None, place: PlaceUnit, locale: str = DEFAULT_LOCALE) -> str:
    """An amount for a tonne, said in the unit of the place.

    Examples
    --------
    >>> per_unit(228.38, PlaceUnit("USD", "bu", 27.2155422))
    '6.22 $/bu'
    """
    amount = number(None if per_t is None else place.of(per_t), 2)
    return term(f"money.per-{place.per}", locale, amount=amount, sign=place.sign)


def money_whole(amount: float | None, place: PlaceUnit, locale: str = DEFAULT_LOCALE) -> str:
    """An amount in whole units of the currency; with hundredths below ten.

    Examples
    --------
    >>> unit = PlaceUnit("USD", "bu", 27.2155422)
    >>> money_whole(5811.7, unit), money_whole(2.514, unit)
    ('5812 $', '2.51 $')
    """
    small = amount is not None and abs(amount) < 10.0
    return term("money.whole", locale, amount=number(amount, 2 if small else 0), sign=place.sign)
