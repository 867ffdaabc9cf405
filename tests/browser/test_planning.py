"""Plan and Bins by keyboard alone: a word at the probe, a draw that is settled, a cargo played again."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from browser.bench_server import BenchServer
from browser.conftest import TOUR, Watched
from browser.test_looks import CONTRAST, EVERYTHING, violations
from browser.test_workbench import sent
from lodestarch.demo.planning import keep_planning
from lodestarch.records.engine import open_records
from lodestarch.web.clock import local_now

PAGES = {
    "receive": "/plan/receive",
    "load-out": "/plan/loadout",
    "allocate": "/plan/allocate",
    "loading-sheet": "/plan/allocate/loading-sheet",
    "bins-kept": "/bins",
}
WIDTHS = {"narrow": (320, 600), "phone": (390, 844), "laptop": (1280, 900), "wall": (2560, 1440)}


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    path = tmp_path_factory.mktemp("planning") / "lab.db"
    with open_records(path, clock=local_now) as records:
        keep_planning(records, person="Ann Example", at=local_now())
    running = BenchServer(path)
    running.start()
    yield running
    running.stop()


@pytest.fixture
def seen(browser, server):
    context = browser.new_context(viewport={"width": 1280, "height": 900}, color_scheme="light")
    watched = Watched(context, server.address)
    context.request.post(
        f"{server.address}/sign-in", form={"name": "Ann Example"}, headers={"Origin": server.address}
    )
    yield watched
    context.close()
    complaints = [c for c in watched.complaints if "Failed to load" not in c and "verbose" not in c]
    assert complaints == []
    assert [r for r in watched.requests if not r.startswith((server.address, "data:"))] == []


def entered(page: Page, *fields: str) -> None:
    """Type into the focused field and those after it, Enter behind each."""
    for text in fields:
        page.keyboard.type(text)
        page.keyboard.press("Enter")


def test_a_truck_by_keypad_gets_its_word_and_the_hand_stays_at_the_form(seen):
    page = seen.open("/plan/receive")
    page.keyboard.press("n")
    expect(page.get_by_label("Ticket", exact=True)).to_be_focused()
    entered(page, "9001", "24,5", "New Ground", "", "")
    sent(page)
    word = page.locator(".word")
    expect(word).to_contain_text("9001: HOLD")
    assert word.evaluate("(e) => getComputedStyle(e).fontSize") == "96px"
    expect(page.get_by_label("Ticket", exact=True)).to_be_focused()
    expect(page.get_by_label("Ticket", exact=True)).to_have_value("")
    # What is being typed outlives a reload, and a word that was said stands.
    page.keyboard.type("9002")
    page.reload()
    expect(page.get_by_label("Ticket", exact=True)).to_have_value("9002")
    expect(page.locator(".word")).to_contain_text("9001: HOLD")
    page.get_by_label("Ticket", exact=True).focus()
    page.keyboard.press("Enter")
    entered(page, "2400", "", "", "")
    fault = page.locator(".truck .fault, form[aria-labelledby=truck-title] .fault").first
    expect(fault).to_contain_text("more than one truck brings")
    expect(page.get_by_label("Tonnes", exact=True)).to_be_focused()
    expect(page.get_by_label("Tonnes", exact=True)).to_have_value("2400")
    expect(page.get_by_label("Ticket", exact=True)).to_have_value("9002")


def test_a_number_that_comes_from_elsewhere_ends_the_waiting_by_itself(seen, server):
    page = seen.open("/plan/receive")
    # A slip in another row is told, and stays told, while the page looks for news.
    other = page.locator("tr", has=page.locator("th", has_text="7515"))
    other.get_by_label("Result, s 7515").fill("2b7")
    other.get_by_role("button", name="It reads").click()
    expect(other.locator(".fault").first).to_contain_text("is no reading")
    expect(other.get_by_label("Result, s 7515")).to_have_value("2b7")
    assert violations(seen, EVERYTHING) == []
    other.get_by_label("Result, s 7515").fill("231")
    other.get_by_role("button", name="It reads").click()
    expect(other).to_contain_text("DUMP 4", timeout=15_000)
    page.locator("h1").click()
    page.keyboard.press("n")
    expect(page.get_by_label("Ticket", exact=True)).to_be_focused()
    page.keyboard.type("93")  # somebody is typing while it comes
    page.request.post(
        f"{server.address}/api/v1/plan/receive/trucks/7513/number",
        data={"seconds": "191"},
        headers={"Idempotency-Key": "number-of-7513", "Origin": server.address},
    )
    row = page.locator("tr", has=page.locator("th", has_text="7513"))
    expect(row).to_contain_text("DUMP 5", timeout=15_000)
    expect(page.get_by_label("Ticket", exact=True)).to_be_focused()
    expect(page.get_by_label("Ticket", exact=True)).to_have_value("93")


def answered(page: Page, *, whole: bool = False) -> None:
    """Wait until the plan is there; or what lies beside it as well."""
    if whole:
        expect(page.locator(".answer[data-whole=yes]")).to_be_visible(timeout=60_000)
    expect(page.locator("#answer.old")).to_have_count(0, timeout=60_000)
    expect(page.locator(".matrix")).to_be_visible(timeout=60_000)


def test_a_draw_is_settled_by_typing_and_taken_back(seen):
    page = seen.open("/plan/allocate")
    answered(page)
    cell = page.get_by_label("bin-2 to quillmere-24-3, tonnes")
    before = cell.input_value()
    cell.focus()
    page.keyboard.press("Control+A")
    page.keyboard.type("200")
    expect(page.locator("#answer.old")).to_have_count(1)  # the plan before stays, greyed
    expect(page.get_by_label("bin-2 to quillmere-24-3, tonnes, settled")).to_have_value("200", timeout=60_000)
    answered(page)
    expect(page.get_by_label("bin-2 to quillmere-24-3, tonnes, settled")).to_be_focused()
    page.reload()
    answered(page)
    expect(page.get_by_label("bin-2 to quillmere-24-3, tonnes, settled")).to_have_value("200")
    page.locator("h1").click()
    page.keyboard.press("u")
    expect(page.get_by_label("bin-2 to quillmere-24-3, tonnes, settled")).to_have_count(0, timeout=60_000)
    answered(page)
    expect(page.get_by_label("bin-2 to quillmere-24-3, tonnes")).to_have_value(before)
    # More than there is: said beneath the cells, and what was typed stays.
    other = page.get_by_label("bin-4 to pellanor-spot, tonnes")
    other.focus()
    page.keyboard.type("2900")
    page.keyboard.press("Enter")
    expect(page.locator("#draw-fault")).to_contain_text("bin-4 has 290.0\u00a0t left to give")
    expect(other).to_have_value("2900")
    expect(other).to_have_attribute("aria-invalid", "true")
    assert violations(seen, EVERYTHING) == []
    page.keyboard.press("Control+A")
    page.keyboard.press("Delete")
    answered(page)


def test_draws_that_leave_no_plan_are_let_go_by_a_button(seen):
    page = seen.open("/plan/allocate")
    answered(page)
    page.get_by_label("bin-5 to quillmere-24-3, tonnes").fill("270")
    expect(page.get_by_role("heading", level=1)).to_have_text(
        "No plan keeps everything that is asked.", timeout=60_000
    )
    assert violations(seen, EVERYTHING) == []
    page.get_by_role("button", name="Let it go").first.click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("The plan brings", timeout=60_000)
    answered(page)


def test_a_cargo_is_entered_and_played_again_by_keyboard(seen):
    page = seen.open("/plan/loadout")
    page.keyboard.press("f")
    expect(page.locator("#result-number")).to_be_focused()
    entered(page, "6", "319")
    sent(page)
    row = page.locator("tr", has=page.locator("th", has_text=re.compile("^6$")))
    expect(row).to_contain_text("319", timeout=30_000)
    page.locator("h1").click()
    page.keyboard.press("s")
    expect(page.locator("#tonnes")).to_be_focused()
    entered(page, "500", "4", "")
    fault = page.locator("form[aria-labelledby=loaded-title] .fault")
    expect(fault).to_contain_text("is not one of the choices")
    expect(page.get_by_label(re.compile("From bins"))).to_have_value("4")
    page.locator("h1").click()
    page.keyboard.press("n")
    page.wait_for_url(re.compile("step=1$"))
    for step in (2, 3, 4):
        page.keyboard.press("n")
        page.wait_for_url(re.compile(f"step={step}$"))
    expect(page.get_by_role("status").filter(has_text="step 4 of")).to_contain_text("sublot 1: 318")
    page.keyboard.press("v")
    page.wait_for_url(re.compile("step=3$"))
    page.keyboard.press("Escape")
    page.wait_for_url(re.compile("/plan/loadout$"))


def test_bins_take_layers_and_say_what_is_wrong_at_its_field(seen):
    page = seen.open("/bins")
    form = page.locator("form[aria-labelledby=in-title]")
    form.get_by_label("Bin", exact=True).focus()
    entered(page, "5", "N-1", "12", "2b7", "")
    expect(form.locator(".fault")).to_contain_text("is no reading")
    expect(form.get_by_label("Seconds, if known")).to_be_focused()
    expect(form.get_by_label("Seconds, if known")).to_have_value("2b7")
    expect(form.get_by_label("Ticket", exact=True)).to_have_value("N-1")
    assert violations(seen, EVERYTHING) == []
    page.keyboard.press("Control+A")
    entered(page, "240", "")
    sent(page)
    expect(page.get_by_role("heading", level=1)).to_contain_text("5 bins hold")
    expect(page.locator("table.moves tbody tr").first).to_contain_text("load N-1 into bin 5")


@pytest.mark.parametrize(("scheme", "rules"), [("light", EVERYTHING), ("dark", CONTRAST)])
def test_the_checker_finds_nothing_and_pages_fit_and_are_pictured(seen, scheme, rules):
    seen.page.emulate_media(color_scheme=scheme)
    TOUR.mkdir(parents=True, exist_ok=True)
    found, wide = {}, {}
    for name, path in PAGES.items():
        page = seen.open(path)
        if name == "allocate":
            answered(page, whole=True)
        found[name] = violations(seen, rules)
        for width, height in WIDTHS.values():
            page.set_viewport_size({"width": width, "height": height})
            over = page.evaluate("document.documentElement.scrollWidth - innerWidth")
            if over > 0:
                wide[name, width] = over
            page.evaluate("document.fonts.ready")
            if width >= 390:
                page.screenshot(path=TOUR / f"{name}-{width}-{scheme}.png")
        page.set_viewport_size({"width": 1280, "height": 900})
    assert {name: v for name, v in found.items() if v} == {}
    assert wide == {}


def test_paper_shows_the_plan_and_no_form(seen):
    page = seen.open("/plan/allocate/loading-sheet")
    page.emulate_media(media="print")
    expect(page.get_by_text("Stop if it reads under 300").first).to_be_visible()
    expect(page.get_by_role("link", name="PDF A4")).to_be_hidden()
    page = seen.open("/plan/receive")
    expect(page.locator(".word")).to_be_visible()
    expect(page.get_by_role("button", name="Ask")).to_be_hidden()


def test_empty_pages_pass_the_checker_too(browser, tmp_path):
    running = BenchServer(tmp_path / "empty.db")
    running.start()
    context = browser.new_context(viewport={"width": 390, "height": 844})
    watched = Watched(context, running.address)
    found = {}
    try:
        for path in ("/bins", "/plan/receive", "/plan/loadout", "/plan/allocate"):
            page = watched.open(path)
            found[path] = violations(watched, EVERYTHING)
            assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0, path
    finally:
        context.close()
        running.stop()
    assert {path: v for path, v in found.items() if v} == {}
    assert watched.complaints == []
