"""The page Price, as it is answered."""

from __future__ import annotations

import re
from html import unescape

import pytest

from lodestarch import demo
from lodestarch.web.app import create_app
from lodestarch.web.price_pages import offers_of_file
from web.client import TestClient
from web.example_source import example_source

OFFERS = offers_of_file(demo.TERMS_NAME, demo.terms())


def client(offers):
    app = create_app(example_source(), token=None, allowed_hosts=["lab"], offers=offers)
    return TestClient(app, base_url="http://lab")


WITH, WITHOUT = client(OFFERS), client(None)


def words(page):
    bare = re.sub(r"<(script|title|style)[^>]*>.*?</\1>", " ", page, flags=re.DOTALL)
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", bare))).replace("\u00a0", " ")


def test_the_sentence_the_curve_with_its_dots_and_the_buyers_by_net():
    page = WITH.get("/price", params={"seconds": "282", "tonnes": "26.6"}).text
    said = words(page)
    assert "Best: Sallowbeck Flatbread, 5.97 $/bu after haul" in said
    assert "Run another pair before it is sold: that is worth 14 $ and costs 12 $" in said
    assert page.count("<circle") == 50
    buyers = re.findall(r'<th scope="row">([^<]+)<', page)
    assert buyers == [
        "Sallowbeck Flatbread",
        "Dunveth Export Elevator",
        "Quillmere Milling",
        "Pellanor Feeds",
    ]
    assert "invented" in said
    assert "Opinion" in said


WRONG = (
    ({"seconds": "3l0"}, "seconds", "no falling number"),
    ({"seconds": "2900"}, "seconds", "2900"),
    ({"seconds": "<script>alert(1)</script>"}, "seconds", "no falling number"),
    ({"seconds": "310", "u_s": "x"}, "u_s", '"x" is not a number'),
    ({"seconds": "310", "u_s": "0"}, "u_s", "is 0"),
    ({"seconds": "310", "tonnes": "-3"}, "tonnes", '"-3" is not a number'),
    ({"seconds": "310", "tonnes": "0"}, "tonnes", "tonnes is 0 t"),
    ({"seconds": "310", "tonnes": "1.234,5"}, "tonnes", "is not a number"),
    ({"seconds": "310", "material": "gravel"}, "material", "gravel"),
    ({"seconds": "310", "factor": "moisture=13"}, "factor", "moisture=13"),
    ({"seconds": "310", "factor": "protein_pct=99"}, "factor", "protein_pct=99"),
    ({"seconds": "310", "on": "31.02.2024"}, "on", "not a day"),
)


@pytest.mark.parametrize(("asked", "field", "said"), WRONG)
def test_what_is_typed_wrong_is_told_at_its_field_and_stays_in_it(asked, field, said):
    page = WITH.get("/price", params=asked)
    assert page.status_code == 200
    assert re.search(rf'name="{field}"[^>]*aria-invalid="true" aria-describedby="w-{field}"', page.text)
    told = re.search(rf'id="w-{field}"[^>]*>([^<]+)<', page.text)
    assert said in unescape(told[1]).replace("\u00a0", " ")
    assert "<script>alert" not in page.text
    assert len(re.findall(r"<h1[ >]", page.text)) == 1


def test_the_picture_has_its_table():
    page = WITH.get("/price", params={"seconds": "290", "u_s": "9"}).text
    table = page[page.index("price-table") :]
    rows = re.findall(r'<tr><th scope="row" class="n">([^<]+)</th>(.*?)</tr>', table, re.DOTALL)
    at = {seconds: re.findall(r'<td class="n">([^<]+)</td>', nets) for seconds, nets in rows}
    assert {"219", "220", "290", "299", "300"} <= set(at)
    assert all(len(nets) == 4 for nets in at.values())
    assert at["299"] != at["300"]


def test_at_the_floor_and_without_a_question():
    assert "Let it go as feed to Pellanor Feeds" in words(WITH.get("/price", params={"seconds": "<=62"}).text)
    assert "What does a number bring?" in words(WITH.get("/price").text)


def test_without_offers_the_page_says_how_to_give_them():
    said = words(WITHOUT.get("/price", params={"seconds": "310"}).text)
    assert "No terms are kept yet" in said
    assert "--terms FILE" in said


def test_the_page_only_answers_reading():
    assert WITH.post("/price", data={"seconds": "310"}).status_code in {403, 405}
