"""Take the pictures of docs/tour again: the invented day in the workbench, its day sheet, and the tube.

Usage: python tools/tour.py [--out docs/tour]

Needs Chromium on the path. The day is judged anew into a folder that is thrown away.
"""

from __future__ import annotations

import argparse
import shutil
import socket
import sys
import tempfile
import threading
from datetime import UTC, datetime
from pathlib import Path

import uvicorn
from playwright.sync_api import Browser, sync_playwright

from lodestarch.demo.run import run_demo
from lodestarch.records.engine import open_records
from lodestarch.web.app import create_app
from lodestarch.web.kept import KeptDays

ROOT = Path(__file__).resolve().parents[1]
READ_AT = datetime(2024, 8, 21, 17, 40, tzinfo=UTC)
"""When the invented day's sheet is said to have been read, so that pictures do not change with the clock."""

PICTURES = (
    ("day-1280-light", "", 1280, 900, "light", False),
    ("day-1280-dark", "", 1280, 900, "dark", False),
    ("day-390-light", "", 390, 844, "light", False),
    ("sample-1280-light", "/samples/8833", 1280, 900, "light", True),
    ("sample-run-again-1280-light", "/samples/8814", 1280, 900, "light", True),
    ("queries-1280-light", "/queries", 1280, 900, "light", True),
    ("bins-1280-light", "/bins", 1280, 900, "light", True),
)
"""Name, page of the day, width, height, face, whole page or what the window shows."""

TUBE_PICTURES = (
    ("tube-1280-light", "/tube?t=120", 1280, 900, "light", False),
    ("tube-story-1280-dark", "/tube?story=sprout&step=3", 1280, 900, "dark", False),
    ("tube-whole-1280-light", "/tube?story=altitude&step=1", 1280, 900, "light", True),
    ("tube-390-light", "/tube?story=halves&step=2", 390, 844, "light", True),
)
"""The same of the page of the tube; little motion is asked for, so that they show the moment named."""


def _tube(browser: Browser, address: str, out: Path) -> None:
    for name, path, width, height, scheme, whole in TUBE_PICTURES:
        context = browser.new_context(
            viewport={"width": width, "height": height}, color_scheme=scheme, reduced_motion="reduce"
        )
        page = context.new_page()
        page.goto(address + path, wait_until="load")
        # The first time on a computer the model is compiled first; the page opens by itself.
        page.wait_for_selector("html[data-tube=ready]", state="attached", timeout=180_000)
        page.evaluate("document.fonts.ready")
        page.screenshot(path=out / f"{name}.png", full_page=whole)
        context.close()


def _pictures(browser: Browser, address: str, out: Path) -> None:
    for name, path, width, height, scheme, whole in PICTURES:
        context = browser.new_context(viewport={"width": width, "height": height}, color_scheme=scheme)
        page = context.new_page()
        answer = page.goto(address + path, wait_until="load")
        if answer is None or answer.status != 200:
            sys.exit(f"{path or '/'} did not open")
        page.evaluate("document.fonts.ready")
        page.screenshot(path=out / f"{name}.png", full_page=whole)
        context.close()


def _paper(browser: Browser, sheet: Path, out: Path) -> None:
    context = browser.new_context(viewport={"width": 794, "height": 1123}, color_scheme="light")
    page = context.new_page()
    page.goto(sheet.as_uri(), wait_until="load")
    page.screenshot(path=out / "day-sheet.png")
    context.close()


def main() -> None:
    """Run the day, serve it, take the pictures."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--out", type=Path, default=ROOT / "docs" / "tour")
    out = parser.parse_args().out
    out.mkdir(parents=True, exist_ok=True)
    chromium = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if chromium is None:
        sys.exit("no Chromium on the path")
    with tempfile.TemporaryDirectory() as folder, socket.socket() as listening:
        done = run_demo(Path(folder), at=READ_AT, clock=lambda: READ_AT)
        listening.bind(("127.0.0.1", 0))
        host = f"127.0.0.1:{listening.getsockname()[1]}"
        with open_records(str(done.records), create=False, mode="read", clock=lambda: READ_AT) as kept:
            app = create_app(KeptDays(kept), token=None, allowed_hosts=[host])
            server = uvicorn.Server(uvicorn.Config(app, log_level="warning", lifespan="off", ws="none"))
            thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]})
            thread.start()
            try:
                with sync_playwright() as playwright:
                    args = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking"]
                    browser = playwright.chromium.launch(executable_path=chromium, args=args)
                    _pictures(browser, f"http://{host}/days/{done.outcome.day_id}", out)
                    _tube(browser, f"http://{host}", out)
                    _paper(browser, next(p for p in done.papers if p.name == "day-sheet.html"), out)
                    browser.close()
            finally:
                server.should_exit = True
                thread.join()
    print("\n".join(sorted(p.name for p in out.glob("*.png"))))


if __name__ == "__main__":
    main()
