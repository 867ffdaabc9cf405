"""Every code has its sentence, and every sentence the values it names."""

from __future__ import annotations

import re
from dataclasses import fields

import pytest

from lodestarch.common.errors import UnknownName
from lodestarch.common.findings import Where
from lodestarch.words.catalogues import locales, placeholders, sentences, term, terms
from words.emitted import emitted

PLACE = frozenset(f.name for f in fields(Where))
EMITTED = emitted()
BLAME = re.compile(r"\b(invalid|error|failed|oops|please|sorry|illegal)\b|!", re.IGNORECASE)


def test_the_scan_of_the_source_sees_findings_and_their_values():
    by_code = {e.code: e for e in EMITTED if e.keys is not None}
    assert {"pressure_hpa", "low_hpa", "high_hpa"} == set(by_code["pressure-illegal"].keys)
    assert {"pairs", "needed"} == set(by_code["fit-too-few"].keys)
    assert len(EMITTED) > 40


@pytest.mark.parametrize("locale", locales())
def test_every_code_in_the_source_has_a_sentence(locale):
    have = sentences(locale)
    assert sorted({f"{e.code} ({e.place})" for e in EMITTED if e.code not in have}) == []


@pytest.mark.parametrize("locale", locales())
def test_every_placeholder_is_a_value_of_the_finding(locale):
    have = sentences(locale)
    wanting = []
    for one in EMITTED:
        if one.keys is None or one.code not in have:
            continue
        parts = have[one.code]
        needed = placeholders(parts.wrong) | placeholders(parts.do) | placeholders(parts.where)
        wanting += [f"{one.code}: {name} ({one.place})" for name in sorted(needed - one.keys - PLACE)]
    assert wanting == []


@pytest.mark.parametrize("locale", locales())
def test_sentences_blame_nobody_and_shout_at_nobody(locale):
    for code, parts in sentences(locale).items():
        text = f"{parts.wrong} {parts.do}"
        assert not BLAME.search(text), code
        assert not parts.wrong.strip().endswith("."), code


def test_an_unknown_language_or_word_is_named_with_what_there_is():
    with pytest.raises(UnknownName, match="there are: en"):
        sentences("xx")
    with pytest.raises(UnknownName, match="no word named"):
        term("tubes.many-more")


def test_every_term_is_text_with_well_formed_placeholders():
    for name, text in terms().items():
        assert text == text.strip() or name.startswith(("value.", "list.")), name
        placeholders(text)
