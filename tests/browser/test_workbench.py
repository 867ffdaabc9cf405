"""Work at the bench, driven like a hand: a day with four tickets, scans, a balance, a server that dies."""

from __future__ import annotations

import os
import random
import re
import time

import pytest
from playwright.sync_api import Page, expect

from browser.bench_server import BenchServer
from browser.conftest import AXE, TOUR, Watched
from browser.test_keyboard import scan
from browser.test_looks import AXE_RUN, CONTRAST, EVERYTHING
from lodestarch.records.engine import open_records
from lodestarch.records.tables import Moisture
from lodestarch.web.clock import local_now

HAND_MS = 80
"""Between two keys of a quick hand; a scanner sends its keys in single milliseconds."""
KILLS = int(os.environ.get("LODESTARCH_KILLS", "4"))


@pytest.fixture
def server(tmp_path):
    running = BenchServer(tmp_path / "lab.db")
    running.start()
    yield running
    running.stop()


@pytest.fixture
def page(browser, server):
    context = browser.new_context(viewport={"width": 1280, "height": 900}, color_scheme="light")
    seen = Watched(context, server.address)
    opened = seen.open("/bench")
    opened.get_by_label("Name").fill("Ann Example")
    opened.get_by_role("button", name="Begin").click()
    opened.wait_for_url(re.compile("/bench$"), wait_until="load")
    yield opened
    context.close()
    assert [c for c in seen.complaints if "Failed to load" not in c and "verbose" not in c] == []
    assert [r for r in seen.requests if not r.startswith((server.address, "data:"))] == []


def hand(page: Page, *fields: str) -> None:
    """Type into the focused field and what follows it, with Enter behind each."""
    for text in fields:
        if text:
            page.keyboard.type(text, delay=HAND_MS)
        page.wait_for_timeout(HAND_MS)
        page.keyboard.press("Enter")
        page.wait_for_timeout(HAND_MS)


WAITING = """() => new Promise((done) => {
  const asked = indexedDB.open("lodestarch outbox", 1);
  asked.onsuccess = () => {
    const all = asked.result.transaction("entries").objectStore("entries").getAll();
    all.onsuccess = () => done(all.result.filter((e) => e.state === "waiting").length);
  };
})"""


def sent(page: Page) -> None:
    """Wait until nothing waits to be sent."""
    until = time.monotonic() + 60
    while page.evaluate(WAITING):
        assert time.monotonic() < until, "something waits to be sent"
        page.wait_for_timeout(50)


def fast(page: Page, text: str) -> None:
    """Keys as a scanner or a balance sends them into the focused field, Enter last."""
    page.evaluate(
        """(text) => {
          const field = document.activeElement;
          for (const key of [...text, "Enter"]) {
            const event = new KeyboardEvent("keydown", { key, bubbles: true, cancelable: true });
            if (!field.dispatchEvent(event)) continue;
            if (key === "Enter") field.form?.requestSubmit();
            else {
              field.value += key;
              field.dispatchEvent(new Event("input", { bubbles: true }));
            }
          }
        }""",
        text,
    )


def receive(page: Page, code: str, whose: str) -> None:
    if page.get_by_role("link", name="Close the ticket").count():
        page.get_by_role("link", name="Close the ticket").click()
    form = page.get_by_role("form", name="Receive a ticket")
    form.get_by_label("Ticket").fill(code)
    form.get_by_label("Whose").fill(whose)
    form.get_by_role("button", name="Receive it").click()
    expect(page.get_by_role("heading", name=code, exact=True)).to_be_visible()


def station(page: Page, name: str) -> None:
    expect(page.locator("[data-code]")).to_have_attribute("data-station", name, timeout=20_000)


def prepare(page: Page, moisture: str) -> None:
    """From received to weighed, by keys alone."""
    station(page, "grind")
    expect(page.get_by_label("Ground mass, g")).to_be_focused()
    hand(page, "300")
    station(page, "moisture")
    expect(page.get_by_label("Moisture, %").last).to_be_focused()
    hand(page, moisture)
    station(page, "weigh")
    wanted = page.locator(".mass .figure").inner_text()
    expect(page.locator("#mass-1")).to_be_focused()
    hand(page, wanted)
    expect(page.locator("#mass-2")).to_be_focused()
    hand(page, wanted)
    sent(page)


def result(page: Page) -> str:
    return page.locator(".judged .result .figure").inner_text()


def test_a_day_with_four_tickets(page: Page, server: BenchServer):
    for code, whose in (("8814", "Thornhollow Farm"), ("8815", "Oatridge"), ("8816", "Oatridge")):
        receive(page, code, whose)
    # A scan without focus goes to its ticket and nowhere else.
    page.evaluate("document.activeElement.blur()")
    scan(page, "8814")
    expect(page.get_by_role("heading", name="8814", exact=True)).to_be_visible()
    prepare(page, "12,0")
    page.get_by_role("button", name="Bath A").click()
    station(page, "bath")
    expect(page.locator(".count .clock")).to_have_text(re.compile(r"^[01]:\d\d$"))
    # Several tickets in work at once: another is prepared while the first is in its bath.
    page.get_by_role("link", name="8815").first.click()
    prepare(page, "13,1")
    page.get_by_role("button", name="Bath B").click()
    station(page, "bath")
    expect(page.locator("#lanes")).to_contain_text("8815")
    # Nothing is filled in from our count.
    assert page.locator("#seconds-1").input_value() == ""
    hand(page, "250", "330")
    station(page, "judge")
    expect(page.locator(".queries")).to_contain_text("Run a fresh pair")
    page.get_by_role("link", name="8814").first.click()
    station(page, "bath")
    hand(page, ">400", ">400")
    station(page, "judge")
    assert result(page) == "400"
    # The pair that disagreed is run again, and a slip in it is put right with its reason.
    page.get_by_role("link", name="8815").first.click()
    expect(page.locator("#mass-1")).to_be_focused()
    wanted = page.locator(".mass .figure").inner_text()
    hand(page, wanted)
    hand(page, wanted)
    sent(page)
    page.get_by_role("button", name="Bath A").click()
    station(page, "bath")
    hand(page, "287", "2910")
    station(page, "judge")
    page.locator("summary", has_text="Change tube 2").last.click()
    form = page.get_by_role("form", name="Put right").last
    form.get_by_label("Seconds").fill("291")
    form.get_by_role("button", name="Put it right").click()
    expect(form.get_by_role("alert")).to_contain_text("no reason is given")
    assert form.get_by_label("Seconds").input_value() == "291", "what was typed stays"
    form.get_by_label("Reason").fill("one nought too many")
    form.get_by_role("button", name="Put it right").click()
    expect(page.locator(".judged .result .figure")).to_have_text("289")
    # The last ones come in one line: a pair that goes out by rule, and a single tube.
    page.locator("#quick-ticket").focus()
    hand(page, "8816", "14", "212", "215")
    hand(page, "8817", "14", "212", "")
    sent(page)
    expect(page.locator("#lane-judge + ul")).to_contain_text("8817")
    page.get_by_role("button", name="Let 1 result out by rule").click()
    sent(page)
    expect(page.locator("#lanes")).not_to_contain_text("8816", timeout=20_000)
    # The chemist takes the exceptions, each with a reason.
    for code in ("8817", "8814", "8815"):
        page.get_by_role("link", name=code).first.click()
        expect(page.get_by_role("heading", name=code, exact=True)).to_be_visible()
        form = page.get_by_role("form", name="Release")
        form.get_by_role("button", name="Release the result").click()
        expect(form.get_by_role("alert")).to_contain_text("the rule keeps this result")
        form.get_by_label("Reason").fill("far from every limit")
        form.get_by_role("button", name="Release the result").click()
        station(page, "released")
    expect(page.locator("#lanes")).not_to_contain_text("8815", timeout=20_000)
    # One answer by phone: ticket number and Enter.
    page.locator("#code").fill("8815")
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile("/tickets/8815$"), wait_until="load")
    line = page.get_by_role("heading", level=1).inner_text().replace("\u00a0", " ")
    assert re.match(r"8815 · 289, four tubes, 15 % mb, released$", line)
    page.get_by_label("Who asks").fill("Oatridge")
    page.keyboard.press("Enter")
    expect(page.get_by_text("Who was told")).to_be_visible(timeout=20_000)
    expect(page.locator(".aside")).to_contain_text("one nought too many")
    page.get_by_role("link", name="Label").click()
    expect(page.locator(".label svg")).to_be_visible()
    page.emulate_media(media="print")
    expect(page.locator(".label .big")).to_be_visible()
    expect(page.get_by_role("heading", level=1)).to_be_hidden()
    page.goto(server.address + "/days")
    page.get_by_role("link", name=re.compile("Bench, ")).click()
    page.wait_for_url(re.compile("/days/"), wait_until="load")


def test_ticket_moisture_and_two_readings_within_ten_seconds(page: Page):
    expect(page.locator("#quick-ticket")).to_be_focused()
    began = time.monotonic()
    hand(page, "8814", "14", "287", "291")
    sent(page)
    assert time.monotonic() - began < 10
    expect(page.locator("#quick-ticket")).to_be_focused()
    expect(page.locator("#lane-judge + ul")).to_contain_text("289")


def test_a_scan_or_a_balance_never_lands_in_a_field_that_is_not_its_own(page: Page):
    receive(page, "8814", "")
    receive(page, "8815", "")
    station(page, "grind")
    # The ticket's own scan while seconds are typed: the field gets back what it held, the ticket opens.
    page.locator("#quick-1").focus()
    page.keyboard.type("28", delay=HAND_MS)
    page.wait_for_timeout(HAND_MS)
    fast(page, "8814")
    expect(page.get_by_role("heading", name="8814", exact=True)).to_be_visible()
    assert page.locator("#quick-1").input_value() == "28"
    expect(page.locator("#quick-1")).to_be_focused()
    # A code that nobody knows, and a balance: both are taken back from a field of seconds, and told.
    fast(page, "9999")
    expect(page.locator("#sending")).to_contain_text("9999 was as fast as a scan")
    fast(page, "6.953")
    expect(page.locator("#sending")).to_contain_text("6.953 came as fast as a balance")
    assert page.locator("#quick-1").input_value() == "28"
    # In a mass field the balance is taken, for the whole field.
    page.locator("#ground-mass").fill("1")
    page.locator("#ground-mass").focus()
    page.wait_for_timeout(HAND_MS)
    fast(page, "+  300.5")
    station(page, "moisture")


def test_ten_wrong_inputs_in_one_line_keep_what_was_typed(page: Page):
    wrong = [
        (("8" * 41, "14", "287", "291"), "too long for a ticket"),
        (("88/14", "14", "287", "291"), "has a sign that no ticket has"),
        (("", "14", "287", "291"), "no ticket is typed"),
        (("8814", "x", "287", "291"), '"x" is not a number'),
        (("8814", "1.4.0", "287", "291"), "is not a number"),
        (("8814", "140", "287", "291"), "5 to 30"),
        (("8814", "-14", "287", "291"), "is not a number"),
        (("8814", "14", "2b7", "291"), '"2b7" is no reading'),
        (("8814", "14", "287", "1.234,5"), "is no reading"),
        (("8814", "14", "", ""), "no seconds are typed"),
    ]
    fields = ["#quick-ticket", "#quick-moisture", "#quick-1", "#quick-2"]
    for typed, said in wrong:
        for field, text in zip(fields, typed, strict=True):
            page.locator(field).fill(text)
        page.locator("#quick-2").press("Enter")
        expect(page.locator(".quick .fault")).to_contain_text(said)
        assert [page.locator(f).input_value() for f in fields] == list(typed), said
        assert page.locator(".quick [aria-invalid]").count() >= 1
        page.locator(".quick .fault").evaluate("(said) => (said.textContent = '')")
    page.locator("#quick-1").fill("287")
    page.locator("#quick-2").fill("291")
    page.locator("#quick-2").press("Enter")
    expect(page.locator("#lane-judge + ul")).to_contain_text("289")


def test_drafts_outlive_a_reload_and_entries_a_lost_connection(page: Page, server: BenchServer):
    receive(page, "8814", "Oatridge")
    station(page, "grind")
    hand(page, "")
    station(page, "moisture")
    page.locator("#moisture").press_sequentially("13,")
    page.locator("#quick-moisture").press_sequentially("12")
    page.reload()
    assert page.locator("#moisture").input_value() == "13,"
    assert page.locator("#quick-moisture").input_value() == "12"
    page.locator("#quick-moisture").fill("")
    server.kill()
    page.locator("#quick-ticket").focus()
    hand(page, "8820", "14", "287", "291")
    hand(page, "8821", "14", "300", "310")
    expect(page.locator("#sending")).to_contain_text("2 entries wait to be sent", timeout=20_000)
    server.start()
    sent(page)
    expect(page.locator("#lane-judge + ul")).to_contain_text("8821", timeout=20_000)
    expect(page.locator("#lane-judge + ul")).to_contain_text("8820")
    assert page.locator("#moisture").input_value() == "13,", "what is typed stays through it all"


def test_killed_between_keystroke_and_answer_every_entry_is_there_once(page: Page, server: BenchServer):
    chance = random.Random(20260812)
    for number in range(KILLS):
        page.locator("#quick-ticket").focus()
        hand(page, str(9000 + number), "14", "287")
        page.keyboard.type("291", delay=HAND_MS)
        page.wait_for_timeout(HAND_MS)
        page.keyboard.press("Enter")
        # The field is emptied once the entry is kept; somewhere behind that everything stops.
        page.wait_for_function("document.getElementById('quick-ticket').value === ''")
        page.wait_for_timeout(chance.uniform(0, 60))
        server.kill()
        if number % 2:
            page.goto("about:blank")
        server.start()
        page.goto(server.address + "/bench")
        sent(page)
        assert page.locator("#sending .refused li").all_inner_texts() == []
    server.kill()
    with open_records(server.path, clock=local_now) as records, records.view() as view:
        codes = [m.sample for m in view.all(Moisture)]
        assert sorted(codes) == [str(9000 + n) for n in range(KILLS)]
        readings = view.standing_readings(codes)
        assert readings.group_by("sample").len()["len"].to_list() == [2] * KILLS
    with open_records(server.path, clock=local_now) as records:
        assert records.verify().holds
    server.start()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_pages_of_the_workbench_fit_and_the_checker_finds_nothing(page: Page, server: BenchServer, scheme):
    page.emulate_media(color_scheme=scheme)
    for code, whose in (("8814", "Thornhollow Farm"), ("8815", "Oatridge"), ("8816", "Thornhollow Farm")):
        receive(page, code, whose)
    prepare(page, "13,1")
    page.get_by_role("button", name="Bath A").click()
    station(page, "bath")
    page.get_by_role("link", name="8815").first.click()
    station(page, "grind")
    hand(page, "300")
    station(page, "moisture")
    hand(page, "12,4")
    station(page, "weigh")
    page.locator("#quick-ticket").focus()
    hand(page, "8811", "14", "250", "330")
    sent(page)
    page.locator("#mass-1").fill("6.7")
    places = {
        "bench-weigh": "/bench?ticket=8815",
        "bench-bath": "/bench?ticket=8816",
        "bench-held": "/bench?ticket=8811",
        "bench-none": "/bench",
        "tickets": "/tickets",
        "ticket": "/tickets/8811",
        "label": "/tickets/8811/label",
        "samples": "/samples",
        "grain": "/tickets/8811/grain",
        "paste": "/paste",
        "set-up": "/setup",
        "instruments": "/setup/instruments?pattern={ticket}+{seconds}&text=8811+287",
        "programs": "/setup/tokens",
        "api": "/setup/api",
        "who": "/sign-in",
    }
    found = {}
    rules = EVERYTHING if scheme == "light" else CONTRAST
    for name, path in places.items():
        size = 0
        for width, height in ((2560, 1440), (390, 844), (1280, 900)):
            page.set_viewport_size({"width": width, "height": height})
            page.goto(server.address + path, wait_until="load")
            page.wait_for_timeout(150)
            wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
            assert wide <= 0, f"{name} at {width} px is {wide} px too wide"
            TOUR.mkdir(parents=True, exist_ok=True)
            page.screenshot(path=str(TOUR / f"workbench-{name}-{width}-{scheme}.png"), full_page=width == 390)
        page.evaluate(AXE.read_text("utf-8"))
        found[name] = page.evaluate(AXE_RUN, rules)
        size = page.evaluate(
            """performance.getEntriesByType("resource").filter((r) => !r.name.endsWith("woff2"))
               .concat(performance.getEntriesByType("navigation"))
               .reduce((sum, r) => sum + (r.decodedBodySize || 0), 0)"""
        )
        assert size < 120 * 1024, f"{name}: {size} bytes"
    assert {name: v for name, v in found.items() if v} == {}


def test_every_field_of_the_bench_is_reached_by_keys_with_focus_to_be_seen(page: Page):
    receive(page, "8814", "")
    station(page, "grind")
    page.locator(".skip").focus()
    met = []
    for _ in range(40):
        page.keyboard.press("Tab")
        met.append(page.evaluate("document.activeElement.id || document.activeElement.textContent.trim()"))
        assert page.evaluate("getComputedStyle(document.activeElement).outlineWidth") == "3px", met[-1]
        if met[-1] == "Ground":
            break
    assert met.index("quick-ticket") < met.index("quick-2") < met.index("ground-mass") < met.index("Ground")
