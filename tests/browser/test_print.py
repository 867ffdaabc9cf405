"""Pages and papers on A4 and Letter, through the browser's own printing."""

from __future__ import annotations

import shutil
import subprocess

import pytest

from browser.conftest import TOUR, Watched
from lodestarch.method.portion import wall_table
from lodestarch.report.blank_sheet import blank_bench_sheet
from lodestarch.report.day_sheet import day_sheet
from lodestarch.report.wall_table import wall_table_page
from web.example_day import PROFILE, example_day

DAY = "/days/2026-08-12"
PAPERS = {
    "day-sheet": (lambda: day_sheet(example_day()), 4),
    "wall-table": (lambda: wall_table_page(wall_table(PROFILE), PROFILE, demonstration=True), 1),
    "blank-sheet": (lambda: blank_bench_sheet(PROFILE, demonstration=True), 1),
}


def pages_of(pdf) -> list[str]:
    tool = shutil.which("pdftotext")
    if tool is None:
        pytest.skip("no pdftotext on this machine")
    done = subprocess.run([tool, "-layout", str(pdf), "-"], capture_output=True, text=True, check=True)
    return done.stdout.split("\f")[:-1]


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("size", ["A4", "Letter"])
def test_a_paper_prints_on_its_pages_and_every_page_says_that_it_is_invented(watched: Watched, paper, size):
    make, most = PAPERS[paper]
    watched.page.set_content(make(), wait_until="load")
    TOUR.mkdir(parents=True, exist_ok=True)
    pdf = TOUR / f"{paper}-{size}.pdf"
    # The paper's own page rules stand: landscape for the wall, portrait for the day.
    landscape = paper != "day-sheet"
    watched.page.pdf(path=pdf, format=size, landscape=landscape, print_background=True)
    printed = pages_of(pdf)
    assert 1 <= len(printed) <= most
    assert all("Demonstration, invented data" in page for page in printed)


def test_a_page_of_the_workbench_prints_light_without_what_cannot_be_pressed_on_paper(watched: Watched):
    watched.page.emulate_media(color_scheme="dark")
    page = watched.open(f"{DAY}/samples/8815")
    pdf = TOUR / "sample-printed.pdf"
    TOUR.mkdir(parents=True, exist_ok=True)
    page.pdf(path=pdf, format="A4")
    printed = "\n".join(pages_of(pdf))
    assert "Ticket 8815 is waiting to be run again." in printed
    for button in ("Copy the line", "Keys", "Queries\n"):
        assert button not in printed.split("Ticket 8815")[0], button
    assert "Copy the line" not in printed
    assert "Demonstration, invented data" in printed
    page.emulate_media(media="print", color_scheme="dark")
    assert page.evaluate("getComputedStyle(document.documentElement).colorScheme") == "light"


def test_the_whole_register_prints(watched: Watched):
    page = watched.open(DAY)
    TOUR.mkdir(parents=True, exist_ok=True)
    pdf = TOUR / "day-printed.pdf"
    page.pdf(path=pdf, format="A4")
    printed = pages_of(pdf)
    assert all("Demonstration, invented data" in text for text in printed)
    assert "8860" in printed[-1]
    assert "whose" in printed[1]
