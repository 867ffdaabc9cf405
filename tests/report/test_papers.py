"""Papers: whole in themselves, marked where invented, and saying what the day says."""

from __future__ import annotations

import re
from dataclasses import replace
from html import unescape

import pytest

from lodestarch.method.portion import wall_table
from lodestarch.method.shipped import shipped_profile
from lodestarch.report.blank_sheet import COLUMNS, blank_bench_sheet
from lodestarch.report.day_sheet import day_sheet
from lodestarch.report.wall_table import wall_table_page
from web.example_day import PROFILE, empty_day, example_day

DAY = example_day()
PAPERS = {
    "day": lambda demo: day_sheet(replace(DAY, demonstration=demo)),
    "wall": lambda demo: wall_table_page(wall_table(PROFILE), PROFILE, demonstration=demo),
    "blank": lambda demo: blank_bench_sheet(PROFILE, demonstration=demo),
}


def words(page: str) -> str:
    body = page[page.index("<body>") :]
    text = (
        unescape(re.sub(r"<[^>]+>", " ", re.sub(r"</?(span|b)\b[^>]*>", "", body)))
        .replace("\u00a0", " ")
        .replace("\u202f", " ")
    )
    return re.sub(r"\s+", " ", text)


@pytest.mark.parametrize("paper", PAPERS)
def test_a_paper_asks_nobody_for_anything(paper):
    page = PAPERS[paper](False)
    assert not re.search(r"<script|<link|\bsrc=|@import", page)
    assert all(
        target.startswith('"data:font/woff2;base64,') for target in re.findall(r"url\(([^)]*)\)", page)
    )
    assert page.count("@font-face") == 2


@pytest.mark.parametrize("paper", PAPERS)
def test_invented_data_say_so_in_the_head_that_repeats_on_every_page(paper):
    page = PAPERS[paper](True)
    head = page[page.index("<thead>") : page.index("</thead>")]
    assert "Demonstration, invented data" in head
    assert "Demonstration" not in PAPERS[paper](False)


def test_the_day_sheet_says_what_waits_and_what_to_do():
    said = words(day_sheet(DAY))
    assert "6 of 60 samples are waiting to be run again." in said
    assert "Ticket 8810, tube 1 (row 20, seconds): 2910 s, ten times or a tenth of its" in said
    assert "Run a fresh pair from remixed or reground meal." in said
    assert "bench.csv: 120 rows, 119 taken, 1 refused, 1 changed since." in said
    assert "14 % mb · not pressure-corrected" in said
    assert "of its fields are recalled" in said
    assert "SHA-256 4f1c00000000" in said


def test_every_sample_has_a_row_and_notes_are_left_to_the_screen():
    page = day_sheet(DAY)
    assert all(f'<td class="nowrap">{name}</td>' in page for name in DAY.results["ticket"])
    assert "no target is known" not in words(page)


def test_a_paper_without_buyers_names_none():
    assert "Quillmere" in day_sheet(DAY)
    assert "Quillmere" not in day_sheet(DAY, limits=())


def test_an_empty_day_is_a_sheet_too():
    said = words(day_sheet(empty_day()))
    assert "No sample on this sheet yet." in said
    assert "Register" not in said


def test_data_never_become_markup():
    page = day_sheet(replace(DAY, title="<b>&\"'</b>"))
    assert "<b>&" not in page
    assert "&lt;b&gt;&amp;" in page


def test_the_wall_table_holds_every_tenth_once():
    rows = wall_table(PROFILE)
    page = wall_table_page(rows, PROFILE)
    masses = re.findall(r"<td>(\d\.\d\d)</td>", page)
    assert masses == [f"{p.mass_g:.2f}" for p in rows]
    assert words(page).count("16 7.21") == 1
    assert "Above 16 %: dry gently" in words(page)
    assert "Not yet held against the printed standard: mass tolerance, water temperature." in words(page)


def test_a_profile_without_moisture_rule_says_so():
    as_is = shipped_profile("as-is")
    assert "7 g whatever the moisture" in words(wall_table_page(wall_table(as_is), as_is))


def test_the_blank_sheet_can_be_typed_in_column_by_column():
    page = blank_bench_sheet(PROFILE, rows=6)
    assert [f"<code>{key}</code>" in page for key in COLUMNS] == [True] * len(COLUMNS)
    tubes = re.findall(r"<td>(\d?)</td>", page)
    assert [t for t in tubes if t] == ["1", "2", "1", "2", "1", "2"]
    assert "Boiling bath: steam and glass at 100 °C. Gloves, eye protection, lid on." in words(page)
    assert "meal-14@1" in page
