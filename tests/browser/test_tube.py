"""The page of the tube in a browser: what is drawn is the history, and the page serves everybody."""

from __future__ import annotations

import math
from bisect import bisect_right
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from browser.conftest import TOUR, Watched
from browser.test_looks import CONTRAST, EVERYTHING, violations
from lodestarch.work.tube.ready import Readiness

INSTANTS_S = (30.0, 62.5, 133.5)
"""Stirred; just let go; sinking, and between two rows of the history."""
MOST_BYTES = 1.2 * 2**20
QUERY = "a_enzyme=0+%25&b_enzyme=10+%25"


@pytest.fixture(scope="module", autouse=True)
def _ready():
    assert Readiness().wait(300.0)


@pytest.fixture
def calm(watched: Watched) -> Watched:
    """A page on a computer that asks for little motion: nothing plays by itself."""
    watched.page.emulate_media(reduced_motion="reduce")
    return watched


def opened(watched: Watched, path: str) -> Page:
    page = watched.open(path)
    page.wait_for_selector("html[data-tube=ready]", state="attached", timeout=60_000)
    return page


def histories(page: Page, address: str, query: str = QUERY) -> dict[str, dict]:
    body = page.request.get(f"{address}/api/v1/tube?{query}").json()
    return {tube["tube"]: tube for tube in body["tubes"]}


def read(history: dict, name: str, at_s: float):
    """A column of the history at a time, straight between its rows."""
    times, rows = history["time_s"], history[name]
    i = bisect_right(times, at_s) - 1
    if i >= len(times) - 1:
        return rows[-1]
    part = (at_s - times[i]) / (times[i + 1] - times[i])
    if isinstance(rows[i], list):
        return [a + part * (b - a) for a, b in zip(rows[i], rows[i + 1], strict=True)]
    return rows[i] + part * (rows[i + 1] - rows[i])


def stirrer_at(history: dict, at_s: float) -> float:
    plan = history["schedule"]
    if plan["from_s"] <= at_s < plan["until_s"]:
        part = (at_s - plan["from_s"]) * plan["strokes_per_s"] % 1.0
        return 1.0 - abs(2.0 * part - 1.0)
    return read(history, "share_fallen", at_s)


def warmth(celsius: float) -> float:
    return min(max((celsius - 20.0) / 80.0, 0.0), 1.0) ** 2


def go_to(page: Page, at_s: float) -> None:
    page.locator("#time").evaluate(
        "(e, t) => { e.value = t; e.dispatchEvent(new Event('input', { bubbles: true })); }", at_s
    )
    assert float(page.locator("#stage").get_attribute("data-now")) == at_s


DRAWN = """(id) => {
  const svg = document.querySelector(`#live-${id} svg.tube-cut`);
  const all = (s, ...names) => [...svg.querySelectorAll(s)].map((e) => names.map((n) => e.getAttribute(n)));
  const { top, bottom } = svg.querySelector(".stirrer").dataset;
  return {
    top: Number(top), bottom: Number(bottom), granule: Number(svg.dataset.granule),
    stirrer: svg.querySelector(".stirrer").getAttribute("transform"),
    glass: Number(svg.querySelector("[data-glass]").getAttribute("fill-opacity")),
    heat: all(".heat[data-s]", "data-s", "fill-opacity"),
    granules: all(".granule", "data-s", "r"),
    chains: all(".chain", "data-s", "stroke-dasharray", "stroke-opacity"),
    enzymes: all(".enzyme", "data-s", "data-u", "visibility"),
  };
}"""


@pytest.mark.parametrize("at_s", INSTANTS_S)
def test_every_drawn_position_is_that_of_the_history(calm: Watched, at_s):
    page = opened(calm, f"/tube?{QUERY}")
    tubes = histories(page, calm.address)
    go_to(page, at_s)
    for name in ("a", "b"):
        h, drawn = tubes[name]["history"], page.evaluate(DRAWN, name)
        y = drawn["top"] + stirrer_at(h, at_s) * (drawn["bottom"] - drawn["top"])
        assert float(drawn["stirrer"][len("translate(0 ") : -1]) == pytest.approx(y, abs=0.006)
        assert drawn["glass"] == pytest.approx(warmth(read(h, "glass_c", at_s)), abs=6e-4)
        temp, swollen = read(h, "temp_c", at_s), read(h, "swollen", at_s)
        cuts, left = read(h, "cuts", at_s), read(h, "enzyme_left", at_s)
        assert len(drawn["heat"]) == 2 * len(temp)
        for s, opacity in drawn["heat"]:
            assert float(opacity) == pytest.approx(warmth(temp[int(s)]), abs=6e-4)
        for s, r in drawn["granules"]:
            assert float(r) == pytest.approx(drawn["granule"] * (1.0 + swollen[int(s)]), abs=6e-4)
        for s, dash, opacity in drawn["chains"]:
            assert float(dash.split()[0]) == pytest.approx(100.0 * math.exp(-cuts[int(s)]), abs=6e-4)
            assert float(opacity) == pytest.approx(swollen[int(s)], abs=6e-4)
        assert len(drawn["enzymes"]) == round(tubes[name]["activity"])
        for s, u, visibility in drawn["enzymes"]:
            assert (visibility == "hidden") == (left[int(s)] < float(u))


def test_the_server_s_own_picture_is_the_script_s(calm: Watched):
    page = opened(calm, f"/tube?{QUERY}&t=133.5")
    moved = page.evaluate(DRAWN, "b")
    context = calm.context.browser.new_context(java_script_enabled=False)
    plain = context.new_page()
    plain.goto(f"{calm.address}/tube?{QUERY}&t=133.5")
    still = plain.evaluate(DRAWN, "b")
    context.close()
    assert len(still["heat"]) == len(moved["heat"])
    for mine, theirs in zip(
        moved["heat"] + moved["granules"], still["heat"] + still["granules"], strict=True
    ):
        assert mine[0] == theirs[0]
        # The script's history is thinned and rounded.
        assert float(mine[1]) == pytest.approx(float(theirs[1]), abs=0.02)


def test_while_it_plays_every_frame_is_the_history_at_that_frame_s_time(watched: Watched):
    page = opened(watched, f"/tube?{QUERY}")
    h = histories(page, watched.address)["b"]["history"]
    frames = page.evaluate("""() => new Promise((done) => {
      const seen = [];
      const look = () => {
        const stirrer = document.querySelector("#live-b .stirrer");
        const y = Number(stirrer.getAttribute("transform").match(/0 ([-\\d.]+)/)[1]);
        const { top, bottom } = stirrer.dataset;
        seen.push([Number(document.getElementById("stage").dataset.now), (y - top) / (bottom - top)]);
        if (seen.length < 40) setTimeout(look, 40); else done(seen);
      };
      look();
    })""")
    times = [t for t, _ in frames]
    assert times == sorted(times)
    assert times[-1] > times[0]
    for at_s, down in frames:
        assert down == pytest.approx(stirrer_at(h, at_s), abs=2e-3), at_s


def test_cursor_figures_and_words_belong_to_one_moment(calm: Watched):
    page = opened(calm, f"/tube?{QUERY}")
    tube = histories(page, calm.address)["b"]
    go_to(page, 133.5)
    axis = float(page.locator("#live-curves").get_attribute("data-axis"))
    moved = page.locator("#live-curves .cursor").evaluate_all(
        "(all) => all.map((e) => e.getAttribute('transform'))"
    )
    assert len(moved) == 4
    assert {float(m[len("translate(") :].split()[0]) for m in moved} == {round(1000.0 * 133.5 / axis, 1)}
    h = tube["history"]
    mean = sum(x * w for x, w in zip(read(h, "temp_c", 133.5), h["weights"], strict=True))
    left = sum(x * w for x, w in zip(read(h, "enzyme_left", 133.5), h["weights"], strict=True))
    said = page.locator("#live-curves [data-value=b]").all_text_contents()
    assert said[0] == f"{mean:.0f} °C"
    assert said[1] == f"{tube['activity'] * left:.1f} LN"
    assert said[2] == f"{read(h, 'strength', 133.5):.2f}"
    share = f"{100.0 * read(h, 'share_fallen', 133.5):.0f}"
    assert said[3] == f"{share} %"
    expect(page.locator("#live-b .state")).to_contain_text(f"sinking: {share} % of the way, core")
    # Pointing at a curve goes there.
    box = page.locator("[data-kind=enzyme] svg svg").bounding_box()
    page.mouse.click(box["x"] + 0.5 * box["width"], box["y"] + 0.5 * box["height"])
    now = float(page.locator("#stage").get_attribute("data-now"))
    assert now == pytest.approx(0.5 * axis, abs=0.02 * axis)


def test_by_the_keys_alone(calm: Watched):
    page = opened(calm, "/tube?story=sprout")
    page.keyboard.press("ArrowLeft")
    before = float(page.locator("#stage").get_attribute("data-now"))
    page.wait_for_timeout(100)
    page.keyboard.press("ArrowLeft")
    expect(page.locator("#stage")).not_to_have_attribute("data-now", f"{before:.3f}")
    assert float(page.locator("#stage").get_attribute("data-now")) == pytest.approx(before - 5.0)
    page.wait_for_timeout(100)
    page.keyboard.press("p")
    expect(page.locator("#play")).to_have_text("Pause")
    page.wait_for_timeout(100)
    page.keyboard.press("p")
    expect(page.locator("#play")).to_have_text("Play")
    expect(page.locator("#said")).to_contain_text("Tube A: ")
    page.wait_for_timeout(100)
    page.keyboard.press("n")
    expect(page.locator(".step")).to_have_text("Step 2 of 5")
    page.wait_for_selector("html[data-tube=ready]", state="attached")
    page.keyboard.press("v")
    expect(page.locator(".step")).to_have_text("Step 1 of 5")


def test_a_slider_writes_into_its_field_and_the_page_follows(calm: Watched):
    page = opened(calm, "/tube")
    slider = page.get_by_role("slider", name="Enzyme, tube B, by slider")
    slider.focus()
    for _ in range(4):
        page.keyboard.press("ArrowRight")
    expect(page.get_by_role("textbox", name="Enzyme, tube B")).to_have_value("7.0 %")
    expect(page.locator("#live-b .reads")).to_have_text("235\u00a0s", timeout=15_000)
    assert "b_enzyme=7.0" in page.url
    expect(page.locator("#live-title")).to_contain_text("Tube B reads 235 s")
    # The same enzyme in another way is the same tube.
    page.get_by_label("Enzyme as").select_option("ln")
    expect(page.get_by_role("textbox", name="Enzyme, tube B")).to_have_value("LN 33.4")
    expect(page.locator("#live-b .reads")).to_have_text("235\u00a0s", timeout=15_000)
    drawn = page.evaluate(DRAWN, "b")
    assert len(drawn["enzymes"]) == 18


def test_what_cannot_be_is_said_at_the_field_and_mended_there(calm: Watched):
    page = opened(calm, "/tube")
    field = page.get_by_role("textbox", name="Water, tube B")
    field.fill("0")
    page.keyboard.press("Tab")
    expect(field).to_have_attribute("aria-invalid", "true", timeout=15_000)
    expect(page.locator("#find-b_water_ml")).to_contain_text("B water is 0 mL; 10 to 50 mL can be.")
    expect(page.locator("#live-title")).to_have_text(
        "Tube B cannot be run as stated: look at the marked fields."
    )
    expect(page.locator("#live-b svg.tube-cut")).to_have_count(0)
    assert violations(calm, EVERYTHING) == []
    field.fill("26")
    page.keyboard.press("Tab")
    expect(field).not_to_have_attribute("aria-invalid", "true", timeout=15_000)
    expect(page.locator("#live-b svg.tube-cut")).to_have_count(1)
    expect(page.locator("#find-b_water_ml")).to_have_text("")


def test_little_motion_means_that_nothing_moves_by_itself(calm: Watched):
    page = opened(calm, "/tube")
    first = page.evaluate(DRAWN, "a")["stirrer"]
    page.wait_for_timeout(600)
    assert page.evaluate(DRAWN, "a")["stirrer"] == first
    expect(page.locator("#reduced")).to_be_visible()
    expect(page.locator("#clock")).to_have_text("120")


def test_without_script_both_tubes_stand_and_the_fields_work(browser, address):
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{address}/tube")
    expect(page.locator("#live-a svg.tube-cut")).to_be_visible()
    expect(page.get_by_role("slider", name="Enzyme, tube B, by slider")).to_have_count(0)
    page.get_by_role("textbox", name="Enzyme, tube B").fill("10 %")
    page.get_by_role("button", name="Run these two").click()
    expect(page.locator("#live-b .reads")).to_have_text("206\u00a0s")
    context.close()


PAGES = {
    "tube": "/tube",
    "tube-story": "/tube?story=sprout&step=3",
    "tube-refused": "/tube?a_mass_g=0&b_water_ml=0",
}


@pytest.mark.parametrize(("scheme", "rules"), [("light", EVERYTHING), ("dark", CONTRAST)])
def test_the_checker_finds_nothing(calm: Watched, scheme, rules):
    calm.page.emulate_media(color_scheme=scheme, reduced_motion="reduce")
    found = {}
    for name, path in PAGES.items():
        page = opened(calm, path)
        for table in page.locator(".table-of summary").all():
            table.click()
        found[name] = violations(calm, rules)
    assert {name: v for name, v in found.items() if v} == {}


@pytest.mark.parametrize(("width", "height"), [(390, 844), (1280, 900), (2560, 1440), (320, 512)])
def test_the_page_fits_and_is_pictured(calm: Watched, width, height):
    calm.page.set_viewport_size({"width": width, "height": height})
    TOUR.mkdir(parents=True, exist_ok=True)
    for scheme in ("light", "dark"):
        calm.page.emulate_media(color_scheme=scheme, reduced_motion="reduce")
        for name, path in PAGES.items():
            page = opened(calm, path)
            assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0, name
            page.screenshot(path=TOUR / f"{name}-{width}-{scheme}.png")
    if (width, height) == (1280, 900):
        # Both tubes and the clock's buttons in one window.
        page = opened(calm, "/tube")
        for part in ("#live-a svg", "#live-b svg", "#play", "[data-kind=fall] .drawing"):
            box = page.locator(part).first.bounding_box()
            assert box["y"] + box["height"] <= height, part


def test_it_prints_as_a_page_of_stills(calm: Watched, tmp_path: Path):
    page = opened(calm, "/tube?story=sprout&step=2")
    page.emulate_media(media="print")
    expect(page.locator("#stage")).to_be_hidden()
    expect(page.locator("#play")).to_be_hidden()
    stills = page.locator("#live-stills svg.tube-cut")
    expect(stills).to_have_count(12)
    assert all(s.is_visible() for s in stills.all())
    assert page.pdf(format="A4", prefer_css_page_size=True)[:5] == b"%PDF-"


def test_the_page_with_everything_it_asks_for_is_light(watched: Watched):
    weights: dict[str, int] = {}
    watched.page.on("response", lambda r: weights.update({r.url: len(r.body())}))
    opened(watched, "/tube").wait_for_load_state("networkidle")
    assert any("/api/v1/tube" in url for url in weights)
    assert sum(weights.values()) < MOST_BYTES
