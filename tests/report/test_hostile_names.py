"""Names with markup, formulas, line ends, odd signs or five thousand letters come out as text."""

from __future__ import annotations

import dataclasses
import json
import re

import pytest

from issued_papers import certificate, letter, letter_paper, pages_of, paper, run, text_of
from lodestarch.report.issued import files_of
from lodestarch.words.issued.names import CustomerNames
from lodestarch.words.issued.printable import LONGEST, font_signs, printable

HOSTILE = [
    "#panic()[x] $x^2$ *bold* _it_ `code` @ref <label>",
    '#{let f = read("/etc/passwd"); f}',
    "<script>alert(1)</script><b>&amp;</b>",
    "=HYPERLINK(A1) +1 -1 @SUM(A1)",
    "{{ 7*7 }} {% raw %} {0.__class__} {name}",
    "\\u{41} \\n // comment /* more */ ~ -- ---",
    "Zoë Ångström-Þórðardóttir, Łukasz Žižka, Ньютон, Αθηνά",
]


@pytest.mark.parametrize("name", HOSTILE)
def test_a_name_is_text_on_every_paper(name, tmp_path):
    item = dataclasses.replace(certificate().item, origin=name)
    files = files_of(paper(certificate(item=item), CustomerNames(name, name)))
    squeezed = "".join(printable(name).replace("\u200b", "").split())
    assert "".join(text_of(files.pdf, tmp_path).split()).count(squeezed) >= 2
    page = files.html.decode()
    assert "<script>alert" not in page
    assert page.count("<script") == 1
    assert json.loads(files.json)["names"]["customer"]["names"]["name"] == name


def test_control_signs_and_turns_of_direction_do_not_reach_the_page():
    assert printable("a\nb\r\n\tc\x00d\u202ee\u2066f\ud800") == "a b c def"


def test_signs_that_the_font_lacks_are_seen_to_be_missing(tmp_path):
    files = files_of(paper(customer=CustomerNames("農場 🌾 Feldwick", "")))
    assert "?? ? Feldwick" in text_of(files.pdf, tmp_path)


@pytest.mark.parametrize("long", ["M" * 5000, "Wet harvest " * 420, "é" * 5000])
def test_five_thousand_letters_are_shortened_on_paper_and_whole_in_the_data(long, tmp_path):
    item = dataclasses.replace(certificate().item, sample=long, material=long, condition=long)
    files = files_of(paper(certificate(item=item), CustomerNames(long, long)))
    pages = pages_of(files.pdf, tmp_path)
    assert len(pages) <= 3
    boxes = re.findall(
        r'<word xMin="([-\d.]+)" yMin="[-\d.]+" xMax="([-\d.]+)"',
        run("pdftotext", "-bbox", tmp_path / "paper.pdf", "-"),
    )
    assert max(float(b) for _, b in boxes) <= 595.3 - 45.0
    assert json.loads(files.json)["statement"]["item"]["material"] == long
    assert len(printable(long).replace("\u200b", "")) <= LONGEST


def test_a_long_name_leaves_the_letter_on_one_page(tmp_path):
    files = files_of(
        letter_paper(letter(material="M" * 5000, variety="N" * 5000, sample="S" * 5000), "M" * 5000)
    )
    assert len(pages_of(files.pdf, tmp_path)) == 1


def test_the_list_of_signs_is_that_of_the_fonts():
    from importlib.resources import files

    from fontTools.ttLib import TTFont

    held = None
    for weight in ("Regular", "Semibold"):
        font = TTFont(str(files("lodestarch.report").joinpath("fonts", f"SourceSans3-{weight}.ttf")))
        signs = set(font.getBestCmap())
        held = signs if held is None else held & signs
    assert font_signs() == held
