"""The page of the tube and its JSON, as they are answered."""

from __future__ import annotations

import json
import re
from html import unescape
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import lodestarch.web
from lodestarch.web.app import create_app
from lodestarch.work.tube.pair import STANDARD
from lodestarch.work.tube.ready import Readiness
from lodestarch.work.tube.stories import STORIES
from web.client import TestClient
from web.example_source import example_source

ROOT = Path(__file__).resolve().parents[2]
CLIENT = TestClient(create_app(example_source(), token=None, allowed_hosts=["lab"]), base_url="http://lab")
PAGES = [
    "/tube",
    "/tube?story=sprout&step=3",
    "/tube?story=none",
    "/tube?b_water_ml=0",
    "/tube?a_mass_g=50&b_mass_g=0",
]


@pytest.fixture(scope="module", autouse=True)
def _ready():
    assert Readiness().wait(300.0)
    while CLIENT.get("/tube").status_code == 503:
        pass


def words(page: str) -> str:
    bare = re.sub(r"<(script|title)[^>]*>.*?</\1>", " ", page, flags=re.DOTALL)
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", bare))).replace("\u00a0", " ")


@pytest.mark.parametrize("path", PAGES)
def test_a_page_holds_no_script_or_style_of_its_own_and_asks_only_this_server(path):
    page = CLIENT.get(path).text
    assert not re.search(r"<style|\sstyle=|\son[a-z]+=|javascript:", page)
    assert set(re.findall(r"<script[^>]*>(.*?)</script>", page, re.DOTALL)) == {""}
    assert len(re.findall(r"<h1[ >]", page)) == 1
    for target in re.findall(r'\s(?:href|src|action)="([^"]*)"', page):
        assert re.match(r"[/#?](?!/)", target), target
    ids = re.findall(r'\sid="([^"]+)"', page)
    assert len(ids) == len(set(ids))
    for name in re.findall(r'aria-(?:describedby|labelledby)="([^"]+)"', page):
        assert name in ids


def test_the_first_line_and_both_tubes_say_what_the_model_says():
    said = words(CLIENT.get("/tube?a_enzyme=LN+24&b_enzyme=5+%25").text)
    assert "Tube B reads 260 s and tube A 309 s: 49 s apart." in said
    assert "By an uncalibrated model: it explains and ranks, and corrects no result." in said
    assert "sound grain" not in said
    assert "LN 24" in said
    alike = words(CLIENT.get("/tube?a_enzyme=LN+24&b_enzyme=LN+24").text)
    assert "Both tubes read 309 s." in alike


def test_every_curve_has_its_table_and_the_tables_agree_with_the_json():
    page = CLIENT.get("/tube?t=120").text
    history = CLIENT.get("/api/v1/tube").json()["tubes"][1]["history"]
    tables = re.findall(r"<details class=\"table-of\">.*?</details>", page, re.DOTALL)
    assert len(tables) == 4
    rows = re.findall(r"<tr>(.*?)</tr>", tables[3], re.DOTALL)
    cells = {c[0]: c[1:] for r in rows if (c := re.findall(r">([^<>]+)</t", r))}
    at = min(range(len(history["time_s"])), key=lambda i: abs(history["time_s"][i] - 160.0))
    assert float(cells["160"][1]) == pytest.approx(100.0 * history["share_fallen"][at], abs=1.5)
    assert cells["350"][1] == "–"
    assert cells["260"][1] == "100"


def test_what_cannot_be_is_said_at_its_field():
    page = CLIENT.get("/tube?a_mass_g=50&b_enzyme=130+%25&b_water_ml=0&b_moisture_pct=40&b_place=0+hPa").text
    assert "Neither tube can be run as stated: look at the marked fields." in words(page)
    marked = re.findall(r'id="([ab]_\w+)"[^>]*aria-invalid="true"', page)
    assert marked == ["b_enzyme", "a_mass_g", "b_moisture_pct", "b_water_ml", "b_place"]
    for name in marked:
        found = re.search(rf'id="find-{name}">(.*?)</div>', page, re.DOTALL)
        assert re.search(r"<p><b>[AB]</b> .+\. .+</p>", found[1]), name
    # The other fields say nothing, and what was typed stays.
    assert re.search(r'id="find-a_enzyme"></div>', page)
    assert 'name="a_mass_g" id="a_mass_g" value="50"' in page


@pytest.mark.parametrize(
    ("key", "text"),
    [
        ("water_ml", "0"), ("moisture_pct", "0"), ("moisture_pct", "40"), ("enzyme", "A -3"),
        ("enzyme", "-3 %"), ("place", "0 hPa"), ("start_temp_c", "warm"), ("mass_g", "1e9"),
    ],
)  # fmt: skip
def test_out_of_range_is_a_finding_and_never_a_number(key, text):
    tubes = CLIENT.get("/api/v1/tube", params={f"a_{key}": text}).json()["tubes"]
    assert tubes[0]["seconds"] is None
    assert tubes[0]["history"] is None
    assert {f["severity"] for f in tubes[0]["findings"]} == {"stop"}
    assert all(f["wrong"] and f["do"] for f in tubes[0]["findings"])
    assert tubes[1]["seconds"] == pytest.approx(259.8, abs=0.1)


def test_notes_of_a_run_stand_beneath_the_fields():
    said = words(CLIENT.get("/tube?b_enzyme=LN+600").text)
    assert "Tube B" in said
    assert "lies at the floor, where the seconds no longer tell the activity" in said


@pytest.mark.parametrize("story", STORIES, ids=lambda s: s.name)
def test_a_story_leads_from_step_to_step_and_out_again(story):
    path, met = f"/tube?story={story.name}", 0
    while "story=" in path:
        page = CLIENT.get(path).text
        met += 1
        assert f"Step {met} of {len(story.steps)}" in words(page)
        path = unescape(re.search(r'class="next" href="([^"]+)"', page)[1])
    assert met == len(story.steps)
    assert path == "/tube"


def test_a_story_that_is_none_is_told_and_the_page_opens_all_the_same():
    answer = CLIENT.get("/tube?story=<b>x")
    assert answer.status_code == 200
    assert "no story is named <b>x. Open one of the stories named on the page." in words(answer.text)
    assert "<b>x" not in answer.text
    assert CLIENT.get("/api/v1/tube?story=none").status_code == 404


def keys_of(value: object, prefix: str = "") -> set[str]:
    if isinstance(value, dict):
        return {x for k, v in value.items() for x in keys_of(v, f"{prefix}.{k}" if prefix else k)}
    if isinstance(value, list) and any(isinstance(v, dict) for v in value):
        return {x for v in value for x in keys_of(v, f"{prefix}[]")}
    return {prefix}


def documented(section: str) -> set[str]:
    text = (ROOT / "docs" / "json.md").read_text("utf-8")
    part = text.split(f"\n## {section}\n")[1].split("\n## ")[0]
    return set(re.findall(r"^\| `([^`]+)` \|", part, flags=re.MULTILINE))


def test_the_keys_of_the_json_are_documented():
    body = CLIENT.get("/api/v1/tube").json()
    for tube in body["tubes"]:
        del tube["findings"]
    of_run = {f"tubes[].{key}" for key in documented("tube run") - {"history", "limits", "inputs.origins"}}
    assert keys_of(body) == documented("Page Tube") | of_run


def test_json_holds_no_nan_and_names_no_file_for_its_history():
    body = CLIENT.get("/api/v1/tube?a_enzyme=LN+600&b_place=2400+m").json()
    json.dumps(body, allow_nan=False)
    for tube in body["tubes"]:
        h = tube["history"]
        assert {len(h[k]) for k in h if k not in {"weights", "schedule"}} == {len(h["time_s"])}
        assert h["share_fallen"][-1] == 1.0


def test_while_the_model_is_made_ready_the_page_says_so(monkeypatch):
    monkeypatch.setattr(Readiness, "wait", lambda *_: False)
    answer = CLIENT.get("/tube")
    assert (answer.status_code, answer.headers["retry-after"]) == (503, "5")
    assert "The model is being made ready." in words(answer.text)
    assert CLIENT.get("/api/v1/tube").status_code == 503


FIELDS = [f"{tube}_{key}" for tube in "ab" for key in (*STANDARD, "origin", "set")]
KEYS = st.sampled_from([*FIELDS, "story", "step", "t"])
HARD = st.one_of(
    st.text(st.characters(codec="utf-8"), max_size=30),
    st.sampled_from(["inf", "1e999", "-0", "0,0", "5 %%", "LN", "9" * 40, "٣", "²", "a:b:c", "sprout"]),
)


@settings(max_examples=25, deadline=None)
@given(st.dictionaries(KEYS, HARD, max_size=4))
def test_whatever_is_asked_the_answer_is_a_page_without_a_number_that_is_none(asked):
    page = CLIENT.get("/tube", params=asked)
    assert page.status_code == 200
    if not any("nan" in text.casefold() for text in asked.values()):
        assert not re.search(r"\bnan\b", page.text, re.IGNORECASE)
    assert CLIENT.get("/api/v1/tube", params=asked).status_code in {200, 404}


def test_the_script_stays_small_and_every_module_says_what_it_is():
    modules = sorted(Path(lodestarch.web.__file__).parent.glob("static/tube/*.js"))
    texts = [m.read_text("utf-8") for m in modules]
    assert len(modules) >= 6
    assert sum(t.count("\n") for t in texts) <= 600
    assert all(t.startswith("/**") for t in texts)
    assert not any(re.search(r"https?://|eval\(|innerHTML|setTimeout\(\"", t) for t in texts)
