"""Pages say what the day says, in whole, and lead only to places that exist."""

from __future__ import annotations

import json
import re
import time
from dataclasses import replace
from html import unescape
from pathlib import Path

import polars as pl
import pytest

import lodestarch.web
from lodestarch.web.app import create_app
from lodestarch.web.views import PER_PAGE, register_part
from web.client import TestClient
from web.example_day import empty_day, example_day, outcome_from
from web.example_source import ExampleSource, example_source

DAY = example_day()
ROOT = "/days/2026-08-12"


def client(*days, follow: bool = True) -> TestClient:
    source = ExampleSource(*days) if days else example_source()
    app = create_app(source, token=None, allowed_hosts=["lab"])
    return TestClient(app, base_url="http://lab", follow_redirects=follow)


def words(page: str) -> str:
    body = page[page.index("<main") : page.index("</main>")]
    text = unescape(re.sub(r"<[^>]+>", " ", re.sub(r"</?(span|b)\b[^>]*>", "", body)))
    return re.sub(r"\s+", " ", text.replace("\u00a0", " "))


PAGES = ["/days", ROOT, f"{ROOT}?show=waiting", f"{ROOT}/samples/8801", f"{ROOT}/samples/8810",
         f"{ROOT}/queries", f"{ROOT}/bins", "/days/2026-08-13", "/days/2026-08-13/queries",
         "/days/2026-08-13/bins", "/nope", "/go?code=none"]  # fmt: skip


@pytest.mark.parametrize("path", PAGES)
def test_a_page_holds_no_script_or_style_of_its_own(path):
    page = client().get(path).text
    assert not re.search(r"<style|\sstyle=|\son[a-z]+=|javascript:", page)
    assert re.findall(r"<script[^>]*>(.*?)</script>", page, re.DOTALL) == [""]


@pytest.mark.parametrize("path", PAGES)
def test_a_page_has_one_heading_a_language_and_asks_only_this_server(path):
    page = client().get(path).text
    assert len(re.findall(r"<h1[ >]", page)) == 1
    assert '<html lang="en"' in page
    for target in re.findall(r'\s(?:href|src|action)="([^"]*)"', page):
        assert target.startswith(("/", "#", "?")), target
        assert not target.startswith("//"), target


def settled(c, path):
    """The page, once what it needs is made ready: *Tube* asks for patience the first time."""
    for _ in range(120):
        answer = c.get(path)
        if answer.status_code != 503 or "retry-after" not in answer.headers:
            break
        time.sleep(0.5)
    return answer


def test_every_link_leads_to_a_page():
    c = client()
    seen, todo = set(), ["/"]
    while todo:
        path = todo.pop()
        if path in seen:
            continue
        seen.add(path)
        answer = settled(c, path)
        assert answer.status_code == 200, path
        if "text/html" not in answer.headers["content-type"]:
            continue
        here = answer.url.path
        links = {unescape(x) for x in re.findall(r'href="([^"#]+)"', answer.text)}
        todo += [f"{here}{x}" if x.startswith("?") else x for x in links]
    assert f"{ROOT}/samples/8860" in seen
    assert len(seen) > 70


def test_the_front_is_the_newest_day():
    answer = client(follow=False).get("/")
    assert (answer.status_code, answer.headers["location"]) == (303, ROOT)


def test_the_day_says_what_waits_and_lists_every_sample():
    page = client().get(ROOT).text
    said = words(page)
    assert said.strip().startswith("12 August 2026 all days Demonstration, invented data 6 of 60 samples")
    assert re.findall(r'<th scope="row"><a [^>]*>(\d+)</a>', page) == DAY.results["ticket"].to_list()
    assert "28 of 51 results read 300 s or more (Quillmere)" in said
    assert "run again 2910 s, ten times or a tenth of its partner (291 s)" in said


def test_a_part_of_the_register_can_be_shown():
    page = client().get(f"{ROOT}?show=waiting").text
    waiting = ["8810", "8815", "8818", "8839", "8842", "8853"]
    assert re.findall(r'<th scope="row"><a [^>]*>(\d+)</a>', page) == waiting
    assert re.findall(r'aria-current="true">([^<]+)<', page) == ["waiting 6"]
    # What is no filter shows all.
    assert client().get(f"{ROOT}?show=nonsense&from=-5").text.count('<th scope="row">') == 60


def test_a_harvest_is_shown_in_parts():
    rows = DAY.results.clear()
    many = pl.concat([DAY.results.with_columns(pl.format("{}-{}", "sample", pl.lit(i)).alias("sample"))
                      for i in range(8)])  # fmt: skip
    day = replace(DAY, results=pl.concat([rows, many]))
    first, last = register_part(day, "all", 0), register_part(day, "all", 10**6)
    assert (first.start, first.stop, first.before, first.after) == (0, PER_PAGE, None, PER_PAGE)
    assert (last.start, last.stop, last.before, last.after) == (400, 480, 200, None)
    page = client(day).get(f"{ROOT}?from=200").text
    assert "201 to 400 of 480" in page
    assert 'href="?show=all&amp;from=400" rel="next"' in page


def test_one_sample_whole():
    said = words(client().get(f"{ROOT}/samples/8801").text)
    for part in (
        "Ticket 8801 has its result.",
        "246 s",
        "u 3 · two tubes · 14 % mb · not pressure-corrected · preliminary",
        "The readings of 8801 lie 5 s apart; 24.6 s are allowed.",
        "8801 · 246, limits 180, 220 to 340, 250 and 300, two tubes, 14 % mb, preliminary",
        "Liquefaction number 30.7",
        "the lab has no law of its own yet",
        "Row 2 8801 · 1 · 243",
        "It does not tell sprouting from other causes",
        "grower Ebner",
    ):
        assert part in said, part


def test_a_held_sample_gives_no_number_away():
    page = client().get(f"{ROOT}/samples/8815").text
    assert '<p class="read-out" id="read-out">8815 · held, run again</p>' in page
    assert "Run a fresh pair from remixed or reground meal." in words(page)
    assert 'class="result held"' in page


def test_a_number_without_tubes_behind_it_says_so():
    row = {
        "row": 2, "sample": "p7", "ticket": None, "run": "1", "position": "1", "seconds": 268.0, "kind": 0,
        "position_stated": False, "row_text": "p7\x1f268",
    }  # fmt: skip
    said = words(client(outcome_from([row], [])).get(f"{ROOT}/samples/p7").text)
    assert "One number is stated for p7: 268 s. How many tubes stand behind it is not." in said
    assert "number of tubes not stated" in said
    assert "one reading" not in said.split("Apart")[0]


def test_queries_stand_by_what_to_do_the_gravest_first():
    said = words(client().get(f"{ROOT}/queries").text)
    order = [said.index(x) for x in ("Settle first", "Look before you rely on it", "Worth knowing")]
    assert order == sorted(order)
    assert said.index("Look at the instrument's own record") < said.index("Ticket 8810, tube 1")
    assert "6 queries to settle before their results are used." in said
    assert "Rows that were not taken Row 99 8871 · 2 · 2b7" in said


def test_bins_as_if_turned():
    said = words(client().get(f"{ROOT}/bins").text)
    assert "135 t in 4 bins wait for a result." in said
    assert "Bin 2 ≤ 119 s" in said


def test_a_code_leads_to_its_sample():
    c = client(follow=False)
    assert c.get("/go?code=8801").headers["location"] == f"{ROOT}/samples/8801"
    assert c.get("/go?code=%208801%20").headers["location"] == f"{ROOT}/samples/8801"
    assert c.get("/go?code=").headers["location"] == "/"
    lost = c.get("/go", params={"code": "<i>77</i>" * 99})
    assert lost.status_code == 404
    assert "No ticket or sample &lt;i&gt;77" in lost.text
    assert "<i>" not in lost.text


def test_what_is_not_there_is_said_in_our_words():
    c = client()
    for path, said in [
        ("/nope", "There is no page here."),
        ("/days/1999-01-01", "No day 1999-01-01 is kept here."),
        (f"{ROOT}/samples/77", "No ticket or sample 77 on any day kept here."),
    ]:
        answer = c.get(path)
        assert answer.status_code == 404
        assert said in words(answer.text)


def test_nothing_kept_yet():
    said = words(client(replace(empty_day(), day_id="x")).get("/days/x").text)
    assert "No sample on this sheet yet." in said
    app = create_app(ExampleSource(), token=None, allowed_hosts=["lab"])
    front = TestClient(app, base_url="http://lab").get("/")
    assert "No day is kept here yet. Read a bench sheet: lodestarch day SHEET." in words(front.text)


HOSTILE = "<img src=x onerror=\"alert('&')\">/../?a=b#c"


def test_names_from_sheets_stay_text_and_keep_their_pages():
    row = {
        "row": 2, "sample": HOSTILE, "ticket": HOSTILE, "run": "1", "position": "1", "seconds": 300.0,
        "kind": 0, "position_stated": True, "row_text": HOSTILE, "analyst": HOSTILE,
    }  # fmt: skip
    sheet = {"row": 2, "sample": HOSTILE, "ticket": HOSTILE, "kind": "load", "grower": HOSTILE,
             "bin": HOSTILE, "tonnes": 5.0}  # fmt: skip
    day = outcome_from([row], [sheet], title=HOSTILE)
    c = client(day)
    pages = [c.get(p).text for p in (ROOT, "/days", f"{ROOT}/queries", f"{ROOT}/bins")]
    link = re.search(r'<th scope="row"><a href="([^"]+)"', pages[0])
    sample = c.get(unescape(link[1]))
    assert sample.status_code == 200
    for page in [*pages, sample.text]:
        assert "<img" not in page
        assert "&lt;img" in page
    assert c.get("/go", params={"code": HOSTILE}).status_code == 200


def test_the_face_is_remembered_and_nothing_else_is_believed():
    c = client()
    assert 'data-face="system"' in c.get("/days").text
    assert 'data-face="dark"' in c.get("/days", headers={"cookie": "lodestarch_face=dark"}).text
    assert 'data-face="system"' in c.get("/days", headers={"cookie": 'lodestarch_face="><x'}).text


def test_json_says_the_same():
    c = client()
    assert c.get("/api/v1/days").json()["days"][0] == {
        "day_id": "2026-08-12", "title": "12 August 2026", "read_at": "2026-08-12T18:05:00",
        "samples": 60, "waiting": 6,
    }  # fmt: skip
    day = c.get("/api/v1/days/2026-08-12").json()
    assert day["counts"]["run_again"] == 6
    assert len(day["results"]) == 60
    assert {f["severity"] for f in day["findings"]} == {"stop", "check", "note"}
    sample = c.get("/api/v1/samples/8810").json()
    assert [d["day_id"] for d in sample["days"]] == ["2026-08-12"]
    assert sample["days"][0]["result"]["sample"] == "8810"
    assert sample["days"][0]["findings"][0]["code"] == "reading-tenfold"
    for path in ("/api/v1/days/x", "/api/v1/samples/x"):
        assert c.get(path).status_code == 404
        assert "x" in c.get(path).json()["detail"]
    json.dumps(day, allow_nan=False)


def test_no_page_of_the_framework_is_open():
    for path in ("/docs", "/redoc", "/openapi.json"):
        assert client().get(path).status_code == 404


def test_the_script_stays_small_and_every_module_says_what_it_is():
    modules = sorted(Path(lodestarch.web.__file__).parent.glob("static/js/*.js"))
    texts = [m.read_text("utf-8") for m in modules]
    assert sum(t.count("\n") for t in texts) <= 600
    assert all(t.startswith("/**") for t in texts)
    assert not any(re.search(r"https?://|eval\(|innerHTML", t) for t in texts)
