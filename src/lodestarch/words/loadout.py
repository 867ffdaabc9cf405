"""Sentences at the spout: odds of the cargo, what to draw next, what to do about a sublot."""

from __future__ import annotations

from collections.abc import Mapping

from lodestarch.plan.loadout.forecast import Forecast
from lodestarch.plan.loadout.remedy import Remedy
from lodestarch.plan.loadout.stopping import Stopping
from lodestarch.words.catalogues import DEFAULT_LOCALE, term
from lodestarch.words.numbers import number

__all__ = ["odds_sentence", "recipe_text", "remedy_text", "stopping_sentence"]


def odds_sentence(end: Forecast, locale: str = DEFAULT_LOCALE) -> str:
    """Say how the cargo will end, the likelier side first, as a count."""
    makes = end.odds >= 0.5
    share = end.odds if makes else 1.0 - end.odds
    times = round(100 * share)
    percent = number(100.0 * end.odds, 1)
    name = "loadout.odds-makes" if makes else "loadout.odds-misses"
    return term(name, locale, times=times, rest=100 - times, percent=percent)


def recipe_text(shares: Mapping[str, float], locale: str = DEFAULT_LOCALE) -> str:
    """Say a recipe: bin 1 alone, or 7 parts of bin 1 and 3 of bin 2."""
    if len(shares) == 1:
        return term("loadout.recipe-one", locale, bin=next(iter(shares)))
    parts = [
        term("loadout.recipe-part", locale, share=number(100.0 * share, 0), bin=name)
        for name, share in sorted(shares.items(), key=lambda item: -item[1])
    ]
    return " + ".join(parts)


def remedy_text(one: Remedy, locale: str = DEFAULT_LOCALE) -> str:
    """Say what can be done about a sublot."""
    return term(f"loadout.step-{one.step.value}", locale)


def stopping_sentence(found: Stopping, currency: str, locale: str = DEFAULT_LOCALE) -> str:
    """Say whether to stop until the results are in."""
    name = "loadout.stop" if found.pays else "loadout.go-on"
    gain, cost = number(found.gain, 0), number(found.cost, 0)
    return term(name, locale, gain=gain, cost=cost, currency=currency)
