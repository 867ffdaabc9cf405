"""The letter: one page, plain words, the picture, and what stands on it only where it was asked for."""

from __future__ import annotations

import dataclasses
import re

import pytest
import textstat

from issued_papers import letter, letter_paper, pages_of, text_of
from lodestarch.report.issued import files_of
from lodestarch.trade.price_points import like_reports
from lodestarch.words.catalogues import terms
from lodestarch.words.issued.letter_statement import Again, LetterLimit

STATES = ("makes-it", "too-close", "under", "over", "no-limit", "not-evaluated")


def _plain(**changes):
    return letter(prices=(), terms_as_of=None, **changes)


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
@pytest.mark.parametrize("state", STATES)
def test_it_stays_on_one_page(state, paper, tmp_path):
    given = letter(state=state, lab=dataclasses.replace(letter().lab, paper=paper))
    given = dataclasses.replace(given, limit=None) if state == "no-limit" else given
    assert len(pages_of(files_of(letter_paper(given)).pdf, tmp_path)) == 1


def test_it_says_what_came_out_how_sure_and_what_to_do_by_when(tmp_path):
    said = text_of(files_of(letter_paper(letter(), "Feldwick Farm")).pdf, tmp_path)
    for part in (
        "For Feldwick Farm",
        "ticket 8814",
        "199 s",
        "11 in 20 tests would miss the limit (54 %); 9 would meet it",
        "another lab",
        "by 2025-02-20",
        "What this test cannot tell",
        "How to draw and split a sample",
        "Mould toxins",
        "Local rules",
        "Certificate lab-d3",
        "not an official test",
        "page 1 of 1",
    ):
        assert part in said.replace("\u00a0", " ")


def test_prices_stand_on_it_only_where_they_were_asked_for(tmp_path):
    assert "USD" in text_of(files_of(letter_paper(letter())).pdf, tmp_path)
    without = text_of(files_of(letter_paper(_plain())).pdf, tmp_path)
    assert "USD" not in without
    assert "bring" not in without


def test_the_picture_has_fifty_dots_full_where_the_limit_is_met():
    given = _plain()
    page = files_of(letter_paper(given)).html.decode()
    picture = page.split('<figure class="picture">')[1].split("</figure>")[0]
    fills = re.findall(r'<circle [^>]*fill="(#[0-9A-F]+)"', picture)
    assert len(fills) == 50
    expected = sum(v >= 200.0 for v in like_reports(199.0, 9.0))
    assert fills.count("#10202B") == expected
    assert f"{expected} are full" in picture


def test_a_bound_and_an_unknown_spread_get_no_picture(tmp_path):
    floor = _plain(kind=1, seconds=62.0, again=None, state="under")
    page = files_of(letter_paper(floor)).html.decode()
    assert "<circle" not in page
    assert "could not give a number above 62 s" in text_of(files_of(letter_paper(floor)).pdf, tmp_path)


@pytest.mark.parametrize("p", [0.999, 0.9, 0.5, 0.2, 0.001])
def test_the_likelier_side_comes_first(p, tmp_path):
    given = _plain(again=Again(9.0, p, elsewhere=False), limit=LetterLimit("Quillmere", 190.0, None))
    said = text_of(files_of(letter_paper(given)).pdf, tmp_path).replace("\u00a0", " ")
    count = re.search(r"(\d+) in (\d+) tests would (meet|miss)", said)
    assert count is not None
    assert int(count[1]) * 2 >= int(count[2])
    assert count[3] == ("meet" if p >= 0.5 else "miss")


def _sentences(locale):
    """The running text of a letter: every sentence of the catalogue with values as they come."""
    values = {
        "whose": "your contract",
        "limit": "at least 300 s",
        "n": 8,
        "of": 10,
        "rest": 2,
        "pct": 79,
        "seconds": 62,
        "day": "1 May",
        "number": "12",
        "what": "wheat",
        "name": "Farm",
        "buyer": "Mill",
        "net": 5,
        "currency": "USD",
        "per": "t",
        "full": 40,
        "open": 10,
        "low": 200,
        "high": 300,
        "ticket": "8814",
        "sample": "8814",
        "material": "wheat",
        "variety": "Ostarn",
        "tonnes": 25,
    }
    found = [t for k, t in sorted(terms(locale).items()) if k.startswith("letter.")]
    return " ".join(t.format(**values) for t in found if t.endswith("."))


def test_it_reads_easily():
    said = _sentences("en")
    # Formulas that count letters, words and sentences: those by syllables need a word list from the network.
    assert textstat.automated_readability_index(said) <= 5.0
    assert textstat.coleman_liau_index(said) <= 6.0
