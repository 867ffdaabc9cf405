"""The page of the season in a browser: looked at, checked, by the keys alone, dropped files, print."""

from __future__ import annotations

import socket
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
import uvicorn
from playwright.sync_api import Page, expect

from browser.conftest import TOUR, Watched
from browser.test_looks import CONTRAST, EVERYTHING, violations
from lodestarch.demo.run import run_demo
from lodestarch.records.engine import open_records
from lodestarch.web.app import create_app
from lodestarch.web.clock import local_now
from lodestarch.web.kept import KeptDays

ROOT = Path(__file__).parents[2]
BROADBALK = [ROOT / "examples/broadbalk" / n for n in ("plots.csv", "daily_temp.csv", "monthly_rain.csv")]
PATIENCE_MS = 120_000
"""A back-test takes two seconds on a machine at rest, and far longer where linear algebra waits for cores."""
INVENTED = [ROOT / "examples/season" / f"{n}.csv" for n in ("deliveries", "blends", "outcomes", "fields")]


@pytest.fixture(scope="module")
def address(tmp_path_factory) -> Iterator[str]:
    """A workbench over the demonstration's own records."""
    out = tmp_path_factory.mktemp("demo")
    run_demo(out, at=local_now(), clock=local_now)
    listening = socket.socket()
    listening.bind(("127.0.0.1", 0))
    host = f"127.0.0.1:{listening.getsockname()[1]}"
    with open_records(out / "demo.db", clock=local_now) as records:
        app = create_app(KeptDays(records), token=None, allowed_hosts=[host], records=records)
        server = uvicorn.Server(uvicorn.Config(app, log_level="warning", lifespan="off", ws="none"))
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]})
        thread.start()
        yield f"http://{host}"
        server.should_exit = True
        thread.join(timeout=60)
        listening.close()
        assert not thread.is_alive()


def dropped(page: Page, files: list[Path]) -> Page:
    page.locator("#file").set_input_files([str(f) for f in files])
    page.get_by_role("button", name="Show").click(timeout=PATIENCE_MS)
    expect(page.locator(".rest").first).to_contain_text("nothing of it is kept", timeout=PATIENCE_MS)
    return page


@pytest.mark.parametrize(("scheme", "rules"), [("light", EVERYTHING), ("dark", CONTRAST)])
def test_the_checker_finds_nothing_with_records_files_and_wrong_fields(watched: Watched, scheme, rules):
    watched.page.emulate_media(color_scheme=scheme)
    found = {}
    page = watched.open("/season")
    page.evaluate("document.querySelectorAll('details').forEach((d) => { d.open = true; })")
    found["records"] = violations(watched, rules)
    watched.open("/season?limit=x&season=1&probability=0&factors=moon")
    found["wrong"] = violations(watched, rules)
    dropped(watched.open("/season"), INVENTED)
    found["files"] = violations(watched, rules)
    assert {name: v for name, v in found.items() if v} == {}


@pytest.mark.parametrize(("width", "height"), [(390, 844), (1280, 900), (2560, 1440), (320, 512)])
def test_the_page_fits_and_is_pictured(watched: Watched, width, height):
    watched.page.set_viewport_size({"width": width, "height": height})
    TOUR.mkdir(parents=True, exist_ok=True)
    for scheme in ("light", "dark"):
        watched.page.emulate_media(color_scheme=scheme)
        page = watched.open("/season")
        assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
        page.screenshot(path=TOUR / f"season-{width}-{scheme}.png")
    dropped(page, BROADBALK)
    assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
    page.screenshot(path=TOUR / f"season-broadbalk-{width}-{scheme}.png")


def test_the_board_draws_what_its_table_says(watched: Watched):
    page = dropped(watched.open("/season"), BROADBALK)
    drawn = page.locator("#board .drawing title").all_text_contents()
    cells = page.locator("#board tbody td").all_text_contents()
    weeks = page.locator("#board thead th").count() - 2
    said = [c.replace("\u00a0", " ") for i, c in enumerate(cells) if i % (weeks + 1) and c]
    assert len(drawn) == len(said) == 360
    for one, table in zip(drawn, said, strict=True):
        assert f": {table} <" in one.replace("\u00a0", " ")
    kernels = page.locator("#board .kernel-full").count()
    assert kernels == sum(not _all_under(c) for c in said)


def _all_under(cell: str) -> bool:
    under, _, of = cell.partition(" / ")
    return under == of


def test_by_the_keys_alone(watched: Watched):
    watched.page.set_default_navigation_timeout(PATIENCE_MS)
    page = watched.open("/days")
    page.keyboard.press("g")
    page.keyboard.press("n")
    expect(page.get_by_role("heading", level=1)).to_contain_text(
        "results lie under 250\u00a0s", timeout=PATIENCE_MS
    )
    page.wait_for_load_state("load")
    page.keyboard.press("2")
    expect(page).to_have_url(f"{watched.address}/season#ratings")
    expect(page.locator("#ratings-title")).to_be_in_viewport()
    page.locator("#limit").focus()
    page.keyboard.type("300")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_contain_text("under 300\u00a0s", timeout=PATIENCE_MS)
    # A wrong one is said at its field, and a reader of the screen hears it there.
    page.locator("#limit").fill("30")
    page.keyboard.press("Enter")
    expect(page.locator("#limit")).to_have_accessible_description(
        "'30' is no limit in seconds. Write 51 to 1200.", ignore_case=True
    )


def test_it_prints_charts_and_tables_without_the_form(watched: Watched):
    page = watched.open("/season")
    page.emulate_media(media="print")
    expect(page.locator(".season-ask").first).to_be_hidden()
    expect(page.locator("#board .drawing")).to_be_visible()
    expect(page.locator("#board table")).to_be_visible()
    assert page.pdf(format="A4", prefer_css_page_size=True)[:5] == b"%PDF-"


def test_open_data_are_handed_over(watched: Watched):
    page = watched.open("/season")
    page.locator("#licence").fill("CC0-1.0")
    with page.expect_download() as got:
        page.get_by_role("button", name="Take the open data").click()
    assert got.value.suggested_filename == "season-open-data.zip"
