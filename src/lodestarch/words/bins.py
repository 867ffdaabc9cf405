"""A bin in words."""

from __future__ import annotations

from lodestarch.method.reading import Kind
from lodestarch.plan.bin_state import BinState
from lodestarch.words.catalogues import DEFAULT_LOCALE, term
from lodestarch.words.numbers import figure, number, tidy

__all__ = ["bin_tonnes", "bin_words"]


def bin_words(state: BinState, locale: str = DEFAULT_LOCALE) -> str:
    """Seconds of a bin as if turned: ``312 s``, ``at most 240 s``, or why there is no number."""
    if not state.comparable:
        return term("bins.not-comparable", locale)
    if state.seconds is None:
        return term("bins.untested", locale)
    seconds = number(state.seconds)
    if state.kind == Kind.AT_OR_BELOW.value:
        return tidy(term("bins.at-most", locale, seconds=seconds))
    if state.kind == Kind.ABOVE.value:
        return tidy(term("bins.at-least", locale, seconds=seconds))
    return f"{seconds}\u00a0s"


def bin_tonnes(state: BinState, locale: str = DEFAULT_LOCALE) -> str:
    """Tonnes of a bin, those untested named."""
    said = term("drawing.tonnes", locale, tonnes=figure(state.tonnes_tested, 1))
    if state.tonnes_untested > 0:
        said += ", " + term("drawing.untested", locale, tonnes=figure(state.tonnes_untested, 1))
    return tidy(said)
