"""A day looked through with nothing but the keys, and with a scanner."""

from __future__ import annotations

import re

from playwright.sync_api import Page, expect

from browser.conftest import Watched

DAY = "/days/2026-08-12"
SLOWLY = 90
"""Between two keys of a person, in milliseconds; a scanner is far below."""


def press(page: Page, *keys: str) -> None:
    for key in keys:
        page.keyboard.press(key)
        page.wait_for_timeout(SLOWLY)


def scan(page: Page, code: str) -> None:
    """Keys as a scanner sends them, at once; the driver's own keys are too slow on a busy machine."""
    page.evaluate(
        """(code) => {
          for (const key of [...code, "Enter"]) {
            const event = new KeyboardEvent("keydown", { key, bubbles: true, cancelable: true });
            const pressed = document.activeElement.dispatchEvent(event);
            if (key === "Enter" && pressed) document.activeElement.click();
          }
        }""",
        code,
    )


def arrived(page: Page, end: str) -> None:
    """Wait until the address ends so, and the page and its script are there."""
    page.wait_for_url(re.compile(end), wait_until="load", timeout=10_000)


def focused(page: Page) -> str:
    return page.evaluate("document.activeElement.textContent.trim() || document.activeElement.id")


def test_a_journey_by_keys_alone(watched: Watched):
    page = watched.open("/")
    arrived(page, f"{DAY}$")
    press(page, "j", "j")
    assert focused(page) == "8802"
    press(page, "ArrowDown", "k")
    assert focused(page) == "8802"
    press(page, "Enter")
    arrived(page, f"{DAY}/samples/8802$")
    expect(page.get_by_role("heading", level=1)).to_have_text("Ticket 8802 has its result.")
    press(page, "j")
    arrived(page, "/8803$")
    press(page, "k")
    arrived(page, "/8802$")
    press(page, "Escape")
    arrived(page, f"{DAY}$")
    # Back in the register the place is kept.
    press(page, "j")
    assert focused(page) == "8802"
    press(page, "g", "q")
    arrived(page, "/queries$")
    press(page, "j", "Enter")
    arrived(page, "/samples/8810$")
    press(page, "g", "b")
    arrived(page, "/bins$")
    press(page, "g", "d")
    arrived(page, "/days$")
    press(page, "j", "Enter")
    arrived(page, f"{DAY}$")


def test_the_field_goes_to_a_ticket_and_keys_inside_it_only_write(watched: Watched):
    page = watched.open(DAY)
    press(page, "/")
    field = page.get_by_label("Ticket or sample")
    expect(field).to_be_focused()
    press(page, *"gqj?")
    expect(field).to_have_value("gqj?")
    arrived(page, f"{DAY}$")
    press(page, "Escape")
    expect(field).not_to_be_focused()
    press(page, "/")
    page.keyboard.type("8815", delay=SLOWLY)
    press(page, "Enter")
    arrived(page, "/samples/8815$")


def test_a_scan_goes_to_its_sample_from_anywhere(watched: Watched):
    page = watched.open(f"{DAY}/queries")
    press(page, "j")
    scan(page, "8805")
    arrived(page, "/samples/8805$")
    # Codes with letters that are keys by themselves are scans all the same, known or not.
    scan(page, "jkgq")
    expect(page.get_by_role("heading", level=1)).to_have_text(
        "No ticket or sample jkgq on any day kept here."
    )
    expect(page.get_by_label("Ticket or sample")).to_have_value("jkgq")


def test_the_keys_of_the_page_are_shown_and_can_be_switched_off(watched: Watched):
    page = watched.open(DAY)
    press(page, "?")
    keys = page.get_by_role("dialog", name="Keys of this page")
    expect(keys).to_be_visible()
    expect(keys).to_contain_text("next line")
    press(page, "Escape")
    expect(keys).to_be_hidden()
    arrived(page, f"{DAY}$")

    page.get_by_role("button", name="? Keys").click()
    page.get_by_label("Single keys work on this computer").uncheck()
    press(page, "Escape", "j")
    assert focused(page) != "8801"
    page = watched.open(f"{DAY}/samples/8802")
    press(page, "j", "g", "q", "Escape")
    arrived(page, "/8802$")
    # A scanner works on: it was never a single key.
    scan(page, "8805")
    arrived(page, "/samples/8805$")


def test_keys_with_ctrl_alt_or_meta_belong_to_the_browser(watched: Watched):
    page = watched.open(f"{DAY}/samples/8802")
    for held in ("Control", "Alt", "Meta"):
        page.keyboard.down(held)
        press(page, "j")
        page.keyboard.up(held)
    arrived(page, "/8802$")


def test_tab_reaches_everything_in_the_order_of_the_page(watched: Watched):
    page = watched.open(f"{DAY}/samples/8815")
    press(page, "Tab")
    assert focused(page) == "To the work"
    press(page, "Enter")
    assert page.evaluate("document.activeElement.id") == "work"
    met = []
    for _ in range(12):
        page.keyboard.press("Tab")
        met.append(focused(page))
        outline = page.evaluate("getComputedStyle(document.activeElement).outlineWidth")
        assert outline == "3px", met[-1]
        if met[-1] == "after: 8816":
            break
    assert met[0] == "all days"
    assert met.index("Copy the line") < met.index("Register of 12 August 2026") < met.index("after: 8816")


def test_light_and_dark_are_chosen_here_and_kept(watched: Watched):
    page = watched.open(DAY)
    ground = "getComputedStyle(document.body).backgroundColor"
    assert page.evaluate(ground) == "rgb(250, 251, 252)"
    page.get_by_role("button", name="? Keys").click()
    page.get_by_label("dark", exact=True).check()
    assert page.evaluate(ground) == "rgb(15, 23, 28)"
    page = watched.open(f"{DAY}/queries")
    assert page.evaluate(ground) == "rgb(15, 23, 28)"
    page.emulate_media(media="print")
    assert page.evaluate("getComputedStyle(document.documentElement).colorScheme") == "light"


def test_the_line_to_send_is_copied(watched: Watched):
    watched.context.grant_permissions(["clipboard-read", "clipboard-write"])
    page = watched.open(f"{DAY}/samples/8801")
    page.get_by_role("button", name="Copy the line").click()
    expect(page.get_by_role("button", name="Copied")).to_be_visible()
    copied = page.evaluate("navigator.clipboard.readText()").replace("\u00a0", " ")
    assert copied == "8801 · 246, limits 180, 220 to 340, 250 and 300, two tubes, 14 % mb, preliminary"


def test_without_script_every_place_can_still_be_reached(browser, address):
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{address}{DAY}")
    page.get_by_role("button", name="? Keys").click()
    expect(page.get_by_role("dialog")).to_be_visible()
    page.keyboard.press("Escape")
    page.get_by_label("Ticket or sample").fill("8805")
    page.get_by_role("button", name="Go").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Ticket 8805 is at the floor.")
    context.close()
