"""Sentences of the probe: one word a load, and the rule as it is posted."""

from __future__ import annotations

from lodestarch.plan.receive.desk import Mode, Said, Word
from lodestarch.plan.receive.posting import BinRange, Posted
from lodestarch.words.catalogues import DEFAULT_LOCALE, term
from lodestarch.words.numbers import DASH, number

__all__ = ["range_text", "rule_sentence", "word_text"]


def word_text(said: Said | None, *, known: bool, locale: str = DEFAULT_LOCALE) -> str:
    """Say the word at the probe: TEST, HOLD, DUMP with its bin."""
    if said is None:
        return term("receive.word-none", locale)
    if known or said.word is Word.DUMP:
        return term("receive.word-dump", locale, bin=said.bin)
    return term(f"receive.word-{said.word.value}", locale, bin=said.bin)


def rule_sentence(rule: Posted, mode: Mode, locale: str = DEFAULT_LOCALE) -> str:
    """Say which loads are tested, so that it can be posted."""
    if rule.tells_nothing:
        return term("receive.rule-nothing", locale)
    if rule.test_from_s is None or rule.test_to_s is None:
        return term("receive.rule-none", locale)
    low, high = number(rule.test_from_s, 0), number(rule.test_to_s, 0)
    name = "receive.rule-new" if rule.new_fields else "receive.rule"
    held = term(f"receive.rule-{mode.value}", locale)
    return f"{term(name, locale, low=low, high=high)} {held}"


def range_text(one: BinRange | None, locale: str = DEFAULT_LOCALE) -> str:
    """Say which numbers go into a bin."""
    if one is None:
        return DASH
    if one.from_s is None and one.to_s is None:
        return term("receive.takes-all", locale)
    if one.from_s is None:
        return term("receive.takes-under", locale, high=number(one.to_s, 0))
    if one.to_s is None:
        return term("receive.takes-over", locale, low=number(one.from_s, 0))
    return term("receive.takes-between", locale, low=number(one.from_s, 0), high=number(one.to_s, 0))
