"""Terms, a retest and a price, driven like a hand: dropped in, asked for, filled, told."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from browser.bench_server import BenchServer
from browser.conftest import AXE, TOUR, Watched
from browser.test_looks import AXE_RUN, CONTRAST, EVERYTHING
from lodestarch import demo
from lodestarch.records.engine import open_records
from lodestarch.web.clock import local_now
from lodestarch.work.bench.choices import PROFILE, choose
from lodestarch.work.bench.entered import Sent
from lodestarch.work.bench.reading_in import QuickLine, quick_line

PERSON = "Ann Example"
PLACES = {
    "terms": "/setup/terms",
    "terms-contract": "/setup/terms/contract/quillmere-24-3",
    "terms-schedule": "/setup/terms/schedule/quillmere-fn",
    "price-of-records": "/price?seconds=290&u_s=9&tonnes=26",
    "price-wrong": "/price?seconds=29o&u_s=x&tonnes=-2&on=31.2.",
    "price-told": "/price/told",
    "ticket-priced": "/tickets/8814",
    "bench-priced": "/bench?ticket=8814",
}


def _read(records, code: str, *seconds: str) -> None:
    sent = Sent(f"read-{code}-0000", code.rjust(64, "0"))
    assert quick_line(records, sent, QuickLine(code, "14", seconds), person=PERSON, at=local_now()).taken


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    running = BenchServer(tmp_path_factory.mktemp("trade") / "lab.db")
    with open_records(running.path, clock=local_now) as records:
        with records.unit(PERSON, local_now()) as unit:
            choose(unit, PROFILE, demo.PROFILE_ID)
        _read(records, "8814", "292", "296")
    running.start()
    yield running
    running.stop()


@pytest.fixture
def page(browser, server):
    context = browser.new_context(viewport={"width": 1280, "height": 900}, color_scheme="light")
    seen = Watched(context, server.address)
    opened = seen.open("/sign-in")
    if opened.get_by_role("button", name=PERSON).count():
        opened.get_by_role("button", name=PERSON).click()
    else:
        opened.get_by_role("button", name="Begin").first.click()
    opened.wait_for_load_state("load")
    yield opened
    context.close()
    assert [c for c in seen.complaints if "Failed to load" not in c and "verbose" not in c] == []
    assert [r for r in seen.requests if not r.startswith((server.address, "data:"))] == []


def drop_in(page: Page, server: BenchServer) -> None:
    """Drop the invented terms in, where nothing stands yet."""
    page.goto(server.address + "/setup/terms")
    if page.get_by_role("heading", name="No terms are kept yet").count():
        page.get_by_label("File of terms").set_input_files(
            {"name": "terms.toml", "mimeType": "text/plain", "buffer": demo.terms()}
        )
        page.get_by_role("button", name="Read and keep").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Contracts: 3, bids: 1")


def test_a_file_of_terms_a_retest_and_a_price_told(page: Page, server: BenchServer):
    drop_in(page, server)
    page.get_by_role("link", name="quillmere-24-3").click()
    price = page.get_by_label("price", exact=True)
    price.fill("six")
    page.get_by_role("button", name="Keep it as a new version").click()
    expect(page.locator("#w-price")).to_contain_text("not a number")
    expect(page.get_by_label("price", exact=True)).to_have_value("six")
    page.get_by_label("price", exact=True).fill("6.41")
    page.get_by_role("button", name="Keep it as a new version").click()
    expect(page.get_by_role("status")).to_contain_text("t2")

    page.goto(server.address + "/tickets/8814")
    expect(page.get_by_role("heading", name="What it brings")).to_be_visible()
    page.get_by_text("Ask for a retest", exact=True).click()
    page.get_by_label("How it combines").select_option("official-appeal")
    page.get_by_role("button", name="Ask for the retest").click()
    expect(page.locator(".ask-retest .fault")).to_contain_text("two standard deviations")
    page.get_by_label("How it combines").select_option("all-count")
    page.get_by_label("Why").fill("six seconds short")
    page.get_by_role("button", name="Ask for the retest").click()
    expect(page.get_by_text("Waits for its number: 8814-2.")).to_be_visible()

    page.get_by_role("form", name="Keep as told").get_by_label("Who asks").fill("Thornhollow Farm")
    page.get_by_role("button", name="Keep as told").click()
    expect(page.locator("section[aria-labelledby=price-title] .history li")).to_contain_text("(t2)")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_pages_fit_and_the_checker_finds_nothing(page: Page, server: BenchServer, scheme):
    drop_in(page, server)
    page.emulate_media(color_scheme=scheme)
    TOUR.mkdir(parents=True, exist_ok=True)
    found, wide = {}, {}
    for name, path in PLACES.items():
        for width, height in ((2560, 1440), (390, 844), (1280, 900)):
            page.set_viewport_size({"width": width, "height": height})
            page.goto(server.address + path, wait_until="load")
            over = page.evaluate("document.documentElement.scrollWidth - innerWidth")
            if over > 0:
                wide[name, width] = over
            page.evaluate("document.fonts.ready")
            page.screenshot(path=TOUR / f"{name}-{width}-{scheme}.png", full_page=width == 390)
        page.evaluate(AXE.read_text("utf-8"))
        found[name] = page.evaluate(AXE_RUN, EVERYTHING if scheme == "light" else CONTRAST)
    assert {name: v for name, v in found.items() if v} == {}
    assert wide == {}


def test_no_limit_label_lies_on_another(page: Page, server: BenchServer):
    drop_in(page, server)
    for width in (390, 1280, 2560):
        page.set_viewport_size({"width": width, "height": 900})
        page.goto(server.address + PLACES["price-of-records"], wait_until="load")
        page.evaluate("document.fonts.ready")
        boxes = page.evaluate(
            """[...document.querySelectorAll("figure .band-label, figure .mark-label, figure .axis-title")]
               .map((e) => e.getBoundingClientRect()).map((b) => [b.left, b.top, b.right, b.bottom])"""
        )
        assert len(boxes) >= 8
        for i, a in enumerate(boxes):
            for b in boxes[i + 1 :]:
                # A letter takes less than its line: a quarter of the height may be shared.
                share = 0.25 * min(a[3] - a[1], b[3] - b[1])
                apart = a[2] <= b[0] or b[2] <= a[0] or min(a[3] - b[1], b[3] - a[1]) <= share
                assert apart, (width, a, b)
        figure = page.locator("figure").first.bounding_box()
        assert all(b[2] <= figure["x"] + figure["width"] + 1 for b in boxes)
