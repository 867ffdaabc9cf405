"""The words of the trade: each thing named once, with a name for every region."""

from __future__ import annotations

from lodestarch.words.trade_words import trade_regions, trade_words


def test_every_thing_has_a_name_in_every_region():
    assert all(len(w.said) == len(trade_regions()) and all(w.said) for w in trade_words())


def test_no_thing_is_listed_twice():
    names = [w.here for w in trade_words()]
    assert len(set(names)) == len(names)
