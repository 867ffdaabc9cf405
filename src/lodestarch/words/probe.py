"""The word at the probe, large enough to be read from a cab, and what stands behind it."""

from __future__ import annotations

from collections.abc import Sequence

from lodestarch.plan.receive.desk import Mode, Said, Word
from lodestarch.plan.receive.posting import Posted
from lodestarch.words.catalogues import DEFAULT_LOCALE, term
from lodestarch.words.numbers import number, tidy
from lodestarch.words.receive import rule_sentence

__all__ = ["because_sentence", "large_word", "posted_rule", "waiting_words"]


def large_word(word: Word | None, into: str | None, locale: str = DEFAULT_LOCALE) -> str:
    """One word: TEST, DUMP 4, HOLD, NO ROOM.

    Examples
    --------
    >>> large_word(Word.DUMP, "4"), large_word(Word.HOLD, "3"), large_word(None, None)
    ('DUMP 4', 'HOLD', 'NO ROOM')
    """
    name = "none" if word is None else word.value
    return term(f"receive-page.word-large-{name}", locale, bin=into or "")


def because_sentence(said: Said | None, mode: Mode, currency: str, locale: str = DEFAULT_LOCALE) -> str:
    """Say what a word rests on."""
    if said is None:
        return term("receive-page.because-full", locale)
    worth = said.worth.held if mode is Mode.HOLD else said.worth.elsewhere
    name = "because-worth" if worth >= 0.5 else "because-nothing"
    values = {
        "expected": number(said.expected_fn_s), "low": number(said.low_s), "high": number(said.high_s),
        "worth": number(worth), "mark": number(said.mark), "currency": currency,
    }  # fmt: skip
    return tidy(term(f"receive-page.{name}", locale, **values))


def posted_rule(
    rule: Posted | None, mode: Mode, composite_of: int | None, locale: str = DEFAULT_LOCALE
) -> str:
    """The rule in one sentence; in composites where ``composite_of`` loads make one."""
    if composite_of is not None:
        return term("receive-page.rule-composite", locale, count=composite_of)
    return "" if rule is None else tidy(rule_sentence(rule, mode, locale))


def waiting_words(words: Sequence[Word | None], locale: str = DEFAULT_LOCALE) -> str:
    """Say how many trucks wait, and how many of them for a result."""
    if not words:
        return term("receive-page.ready", locale)
    count, held = len(words), sum(1 for word in words if word is Word.HOLD)
    if held:
        name = "receive-page.waits-for-one" if count == 1 else "receive-page.waits-for"
        return term(name, locale, count=count, held=held)
    return term("receive-page.waits-one" if count == 1 else "receive-page.waits-many", locale, count=count)
