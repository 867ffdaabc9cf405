"""The page Season, as it is answered: out of records, from files, and with everything typed wrong."""

from __future__ import annotations

import io
import re
import zipfile
from html import unescape
from pathlib import Path

import pytest

from lodestarch.web.app import create_app
from lodestarch.work.bench.day import run_day
from lodestarch.work.bench.day_order import DayFile, DayOrder
from web.client import TestClient
from web.example_source import example_source
from web.workbench import Workbench

ROOT = Path(__file__).parents[2]
SEASON = ROOT / "examples" / "season"


def words(page):
    bare = re.sub(r"<(script|title|style)[^>]*>.*?</\1>", " ", page, flags=re.DOTALL)
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", bare))).replace("\u00a0", " ")


def part(page, name):
    found = re.search(rf'<section[^>]* id="{name}".*?</section>', page, flags=re.DOTALL)
    return words(found[0]) if found else ""


def uploaded(*paths):
    return [("file", (p.name, p.read_bytes(), "text/csv")) for p in paths]


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    """Two mornings: three districts, four varieties, a check sample, a retest that fell short."""
    made = Workbench(str(tmp_path_factory.mktemp("season") / "r.db"))
    rows = ["sample,ticket,run,bath,position,seconds,moisture_pct,analyst,run_at"]
    samples = ["ticket,sample,kind,grower,origin,variety,harvest_date"]
    for i in range(36):
        kind = "retest" if i == 35 else "load"
        ticket = "T0" if i == 35 else f"T{i}"
        level = 232 if i == 35 else 250 + 40 * (i % 3) + 3 * (i % 7)
        rows += [
            f"S{i},{ticket},R{i},{'AB'[i % 2]},{p},{level + p},13.1,MQ,2031-08-1{1 + i // 18} 08:00"
            for p in (1, 2)
        ]
        place, variety, day = ("Vale", "Down", "Fen")[i % 3], "PQRS"[i % 4], 4 + i % 6
        samples.append(f"{ticket},S{i},{kind},Grower {i % 5},{place},{variety},2031-08-{day:02d}")
    with made.records.unit("Ann Example", made.clock()):
        pass
    run_day(
        DayOrder(
            DayFile("bench.csv", "\n".join(rows).encode()),
            samples=DayFile("samples.csv", "\n".join(samples).encode()),
        ),
        records=made.records, person="Ann Example", at=made.clock(),
    )  # fmt: skip
    made.sign_in()
    yield made
    made.records.close()


def test_without_records_the_page_says_what_to_do():
    empty = TestClient(create_app(example_source(), token=None, allowed_hosts=["lab"]), base_url="http://lab")
    page = empty.get("/season")
    assert page.status_code == 200
    assert "No results yet" in words(page.text)
    assert 'type="file"' not in page.text
    assert empty.post("/season").status_code == 405
    assert empty.get("/api/v1/season").json()["board"] is None


def test_out_of_the_records(bench):
    page = bench.client.get("/season", params={"limit": "270"}).text
    assert re.search(r"\d+ of 35 results lie under 270 s; most often in Vale", words(page))
    board = part(page, "board")
    assert "w32" in board
    assert part(page, "ratings").count("reliability") == 2
    assert "1 lots were tested a second time; 20 are the least" in part(page, "odds")
    assert "on retests here" in part(page, "odds")
    assert "0 of 36 pairs did not agree; 0 of 0 check samples" in part(page, "lab")
    assert "No weather file" in part(page, "weather")
    assert page.count("<h1>") == 1
    body = bench.client.get("/api/v1/season", params={"limit": "270"}).json()
    under = sum(p["all"]["under_limit"] for p in body["board"]["places"])
    assert f"{under} of 35 results" in words(page)
    assert body["odds"]["outcomes"][0]["met"] is False
    assert body["lab"]["all"]["samples"] == 36
    assert "season-lab-no-checks" in {f["code"] for f in body["findings"]}


def test_files_that_are_dropped_in_stand_in_place_of_the_records_and_are_not_kept(bench):
    head = bench.client.get("/api/v1/season").json()["results"]
    names = ("deliveries", "blends", "outcomes", "fields")
    page = bench.client.post(
        "/season", data={"limit": "250"}, files=uploaded(*(SEASON / f"{n}.csv" for n in names))
    )
    assert page.status_code == 200
    text = page.text
    assert "From deliveries.csv; nothing of it is kept" in words(text)
    assert "of 520 results lie under 250 s" in words(text)
    assert "Odds said" in part(text, "odds")
    assert "Measured minus computed: −2.6 s" in part(text, "blends")
    assert part(text, "fields").index("Brook") < part(text, "fields").index("Long Acre")
    assert "Only the records tell" in part(text, "lab")
    assert "lodestarch season export FILE" in words(text)
    assert bench.client.get("/api/v1/season").json()["results"] == head


def test_broadbalk_from_a_file(bench):
    bb = ROOT / "examples" / "broadbalk"
    files = uploaded(bb / "plots.csv", bb / "daily_temp.csv", bb / "monthly_rain.csv")
    page = bench.client.post("/season", data={"limit": "250"}, files=files).text
    assert "265 of 683 results lie under 250 s" in words(page)
    assert page.count("kernel-line") == 20 * 18
    assert "harvest_year carries 78.1 %" in part(page, "spread")
    assert "Nothing is offered" in part(page, "priors")
    assert "36 results (5.3 %) stand at exactly 62 s" in part(page, "faults")
    weather = part(page, "weather")
    assert "2010-08-31" in weather
    assert "never predict" not in weather
    assert "From weather alone no falling number is told" in weather


WRONG = [
    ("limit", "3OO", '"3OO" is no limit'),
    ("limit", "20", "Write 51 to 1200"),
    ("limit", "-250", "is no limit"),
    ("season", "2031.5", "is no season"),
    ("season", "1066", "Write 1900 to 2199"),
    ("season", "2001", "there are no results of 2001"),
    ("probability", "100", "Write 50 to 99.9"),
    ("probability", "ninety", "is no content"),
    ("factors", "soil", "There is no column soil"),
    ("factors", "variety:moon", "There is no column moon"),
    ("limit", "<script>alert(1)</script>", "is no limit"),
]


@pytest.mark.parametrize(("field", "text", "said"), WRONG)
def test_what_is_typed_wrong_is_said_at_its_field(bench, field, text, said):
    page = bench.client.get("/season", params={field: text})
    assert page.status_code == 200
    box = re.search(rf'<input id="{field}"[^>]*>', page.text)[0]
    assert 'aria-invalid="true"' in box
    assert f'aria-describedby="find-{field}"' in box
    assert f'value="{text}"' in unescape(box)
    told = re.search(rf'id="find-{field}">(.*?)</div>', page.text, flags=re.DOTALL)[1]
    assert said.casefold().replace('"', "'") in unescape(told).casefold().replace('"', "'")
    assert "<script>alert" not in page.text


@pytest.mark.parametrize(
    ("name", "data", "said"),
    [
        ("empty.csv", b"   ", "empty.csv holds nothing"),
        ("picture.png", b"\x89PNG\r\n\x1a\n\x00\x00", ""),
        ("other.csv", b"a,b\n1,2\n", "No column holds falling numbers"),
        ("one.csv", b"variety,fn\n" + b"A,300\nA,310\nA,305\nA,299\n", "there is only one level"),
        ("few.csv", b"variety,fn\nA,300\n", ""),
        ("nan.csv", b"variety,fn\nA,NaN\nB,-4\n", ""),
    ],
)
def test_files_that_tell_nothing_are_answered(bench, name, data, said):
    page = bench.client.post("/season", data={}, files=[("file", (name, data, "text/csv"))])
    assert page.status_code == 200
    assert said.casefold() in words(page.text).casefold()
    assert "nan" not in re.sub(r"'NaN'|nan\.csv|finance", "", words(page.text)).casefold().split()


def test_a_second_file_of_a_kind_is_told(bench):
    files = uploaded(SEASON / "blends.csv", SEASON / "blends.csv")
    page = bench.client.post("/season", data={}, files=files).text
    assert (
        "second file of the same kind" in re.search(r'id="find-file">(.*?)</div>', page, flags=re.DOTALL)[1]
    )


def test_open_data_in_one_archive_or_back_to_the_field(bench):
    got = bench.client.get("/season/open-data.zip", params={"licence": "CC0-1.0"})
    assert got.headers["content-type"] == "application/zip"
    again = bench.client.get("/season/open-data.zip", params={"licence": "CC0-1.0"})
    assert got.content == again.content
    with zipfile.ZipFile(io.BytesIO(got.content)) as archive:
        texts = {n: archive.read(n).decode() for n in archive.namelist()}
    assert set(texts) == {"season.csv", "dictionary.csv", "about.csv"}
    assert not any("Grower" in t.replace("Growers", "") for t in (texts["season.csv"],))
    for asked, field in (
        ({"smallest": "0"}, "smallest"),
        ({"growers": "many"}, "growers"),
        ({"smallest": "900"}, "smallest"),
    ):
        wrong = bench.client.get("/season/open-data.zip", params=asked)
        assert wrong.status_code == 422
        assert f'id="find-{field}"' in wrong.text


def test_the_page_follows_the_records(bench):
    before = bench.client.get("/api/v1/season").json()["results"]
    day = DayOrder(
        DayFile("b.csv", b"sample,run,position,seconds,moisture_pct\nZ1,a,1,300,13\nZ1,a,2,304,13\n")
    )
    run_day(day, records=bench.records, person="Ann Example", at=bench.clock())
    assert bench.client.get("/api/v1/season").json()["results"] == before + 1
