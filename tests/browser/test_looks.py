"""What an automatic checker finds (nothing), what fits, and pictures of every page."""

from __future__ import annotations

import pytest

from browser.conftest import AXE, TOUR, Watched

DAY = "/days/2026-08-12"
PAGES = {
    "day": DAY,
    "waiting": f"{DAY}?show=waiting",
    "sample": f"{DAY}/samples/8801",
    "sample-run-again": f"{DAY}/samples/8815",
    "sample-out-by-ten": f"{DAY}/samples/8810",
    "sample-at-floor": f"{DAY}/samples/8805",
    "sample-set-aside": f"{DAY}/samples/8818",
    "queries": f"{DAY}/queries",
    "bins": f"{DAY}/bins",
    "days": "/days",
    "empty-day": "/days/2026-08-13",
    "empty-queries": "/days/2026-08-13/queries",
    "empty-bins": "/days/2026-08-13/bins",
    "lost": "/go?code=none",
}
EVERYTHING = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
CONTRAST = ["color-contrast"]
AXE_RUN = """async (runOnly) => {
  const found = await axe.run(document, { runOnly });
  return found.violations.map((v) => `${v.id}: ${v.nodes.map((n) => n.target.join(" ")).join("; ")}`);
}"""


def violations(watched: Watched, rules: list[str]) -> list[str]:
    # Given to the page by the driver, as the pages' own policy lets no foreign script in.
    watched.page.evaluate(AXE.read_text("utf-8"))
    return watched.page.evaluate(AXE_RUN, rules)


@pytest.mark.parametrize(("scheme", "rules"), [("light", EVERYTHING), ("dark", CONTRAST)])
def test_the_checker_finds_nothing_on_any_page(watched: Watched, scheme, rules):
    watched.page.emulate_media(color_scheme=scheme)
    found = {}
    for name, path in PAGES.items():
        watched.open(path)
        found[name] = violations(watched, rules)
    watched.page.get_by_role("button", name="? Keys").click()
    found["keys shown"] = violations(watched, rules)
    assert {name: v for name, v in found.items() if v} == {}


PICTURED = ("day", "sample", "sample-run-again", "queries", "bins", "empty-day")
WIDTHS = {"phone": (390, 844), "laptop": (1280, 900), "wall": (2560, 1440)}


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", WIDTHS)
def test_pages_fit_and_are_pictured(watched: Watched, width, scheme):
    size = WIDTHS[width]
    watched.page.set_viewport_size({"width": size[0], "height": size[1]})
    watched.page.emulate_media(color_scheme=scheme)
    TOUR.mkdir(parents=True, exist_ok=True)
    for name in PICTURED:
        page = watched.open(PAGES[name])
        assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0, name
        page.evaluate("document.fonts.ready")
        page.screenshot(path=TOUR / f"{name}-{size[0]}-{scheme}.png")
        assert (TOUR / f"{name}-{size[0]}-{scheme}.png").stat().st_size > 5000


@pytest.mark.parametrize("css_width", [320, 390, 640, 1000])
def test_pages_fit_when_enlarged(watched: Watched, css_width):
    # 640 and 320 are 1280 px at 200 % and at 400 %: WCAG 2.2, 1.4.4 and 1.4.10.
    watched.page.set_viewport_size({"width": css_width, "height": 512})
    for name, path in PAGES.items():
        page = watched.open(path)
        assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0, name


def test_the_seconds_are_the_largest_thing_on_a_sample_s_page(watched: Watched):
    page = watched.open(PAGES["sample"])
    size = "getComputedStyle(document.querySelector('.result .figure')).fontSize"
    assert page.evaluate(size) == "96px"
    font = "getComputedStyle(document.body).fontFamily"
    assert page.evaluate(font).startswith('"Source Sans 3"')
    assert page.evaluate("document.fonts.check('600 16px \"Source Sans 3\"')")


def test_numerals_have_one_width(watched: Watched):
    page = watched.open(PAGES["sample"])
    widths = page.evaluate("""[..."0123456789"].map((digit) => {
      const span = document.body.appendChild(document.createElement("span"));
      span.textContent = digit.repeat(10);
      const width = span.getBoundingClientRect().width;
      span.remove();
      return Math.round(width * 100);
    })""")
    assert len(set(widths)) == 1
