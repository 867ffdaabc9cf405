"""Odds, aims, retests and referee analysis in words: the outcome as a count, the likelier side first."""

from __future__ import annotations

import math

from lodestarch.decide.odds import LotState
from lodestarch.words.catalogues import DEFAULT_LOCALE, term
from lodestarch.words.numbers import figure, number, tidy

__all__ = ["chance_words", "count_of", "how_often", "pct", "signed_money", "state_words"]

_COUNTS = (10, 20, 100, 1000)
_CLOSE = 0.025
"""How far a count may lie from the chance that it stands for."""


def pct(p: float, locale: str = DEFAULT_LOCALE) -> str:
    r"""Write a chance as per cent: whole ones, a decimal near the ends.

    Examples
    --------
    >>> [pct(p).replace("\u00a0", " ") for p in (0.7475, 0.0312, 0.99988)]
    ['75 %', '3.1 %', 'over 99.9 %']
    """
    if p < 0.001:
        return tidy(term("odds.pct-low", locale))
    if p > 0.999:
        return tidy(term("odds.pct-high", locale))
    return tidy(term("odds.pct", locale, p=number(100.0 * p, 0 if 0.05 <= p <= 0.95 else 1)))


def count_of(p: float) -> tuple[int, int]:
    """Return a chance as so many in so many, neither none nor all.

    Examples
    --------
    >>> count_of(0.79), count_of(0.867), count_of(0.97), count_of(0.9999)
    ((8, 10), (17, 20), (97, 100), (999, 1000))
    """
    for of in _COUNTS:
        n = math.floor(p * of + 0.5)
        close = _CLOSE if of < 100 else 0.2 * min(p, 1.0 - p)
        if 0 < n < of and abs(n / of - p) <= min(close, 0.5 * min(p, 1.0 - p)):
            return n, of
    return (1, _COUNTS[-1]) if p < 0.5 else (_COUNTS[-1] - 1, _COUNTS[-1])


def chance_words(p: float, things: str, locale: str = DEFAULT_LOCALE) -> str:
    r"""Say how many make it, the likelier side first.

    Parameters
    ----------
    p : float
        Chance of making it. [1]
    things : str
        Key under ``odds``: ``loads``, ``retests``, ``cargoes``.

    Examples
    --------
    >>> chance_words(0.79, "loads").replace("\u00a0", " ")
    "8 in 10 loads like this make it (79 %); 2 don't"
    >>> chance_words(0.21, "loads").replace("\u00a0", " ")
    "8 in 10 loads like this don't make it (79 %); 2 do"
    """
    what = term(f"odds.{things}", locale)
    if abs(p - 0.5) < 0.005:
        return tidy(term("odds.even", locale, things=what))
    side = max(p, 1.0 - p)
    name = ("makes-it", "sure") if p >= 0.5 else ("not", "sure-not")
    n, of = count_of(side)
    if side > 0.9995:
        return term(f"odds.{name[1]}", locale, n=n, of=of, things=what, pct=pct(side, locale))
    return term(f"odds.{name[0]}", locale, n=n, of=of, rest=of - n, things=what, pct=pct(side, locale))


def how_often(p: float, locale: str = DEFAULT_LOCALE) -> str:
    """Say how often something happens.

    Examples
    --------
    >>> how_often(0.138), how_often(0.0048), how_often(0.6), how_often(1e-9)
    ('once in 7', 'once in 210', '6 times in 10', 'hardly ever')
    """
    if p < 1e-4:
        return term("retest.changes-rare", locale)
    if p < 0.3:
        once = 1.0 / p
        step = 10 ** max(0, math.floor(math.log10(once)) - 1)  # two digits say enough
        return term("retest.once-in", locale, n=number(step * math.floor(once / step + 0.5)))
    n, of = count_of(p)
    return term("retest.times-in", locale, n=n, of=of)


def state_words(state: LotState, locale: str = DEFAULT_LOCALE) -> str:
    """A lot's state with its mark, the word beside it."""
    return f"{term(f'lot-mark.{state.value}', locale)} {term(f'lot-state.{state.value}', locale)}"


def signed_money(amount: float, unit: str) -> str:
    r"""A change of money with its sign and unit.

    Examples
    --------
    >>> signed_money(34.5, "USD").replace("\u00a0", " "), signed_money(-0.001, "USD").replace("\u00a0", " ")
    ('+34.50 USD', '0.00 USD')
    """
    text = number(amount, 2) if abs(amount) < 1000 else figure(round(amount))
    plus = "+" if amount > 0.005 else ""
    return f"{plus}{text}\u00a0{unit}"
