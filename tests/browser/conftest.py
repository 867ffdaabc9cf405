"""A real server on a free loopback port, and Debian's Chromium driven against it."""

from __future__ import annotations

import shutil
import socket
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
import uvicorn
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

from lodestarch.web.app import create_app
from web.example_source import example_source

TOUR = Path(__file__).parents[2] / "out" / "tour"
AXE = Path(__file__).parent / "vendor" / "axe-core" / "axe.min.js"
TOKEN = "start-token-of-the-browser-tests"  # noqa: S105
CHROMIUM = shutil.which("chromium")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if item.path.parent == Path(__file__).parent:
            item.add_marker(pytest.mark.browser)
            if CHROMIUM is None:
                item.add_marker(pytest.mark.skip(reason="no Chromium on this machine"))


@pytest.fixture(scope="session")
def address() -> Iterator[str]:
    """Address of a workbench over the example days; stopped when the tests end."""
    listening = socket.socket()
    listening.bind(("127.0.0.1", 0))
    host = f"127.0.0.1:{listening.getsockname()[1]}"
    app = create_app(example_source(), token=None, allowed_hosts=[host])
    server = uvicorn.Server(uvicorn.Config(app, log_level="warning", lifespan="off", ws="none"))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]})
    thread.start()
    yield f"http://{host}"
    server.should_exit = True
    thread.join(timeout=10)
    listening.close()
    assert not thread.is_alive()


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """One headless Chromium with a profile of its own, thrown away at the end."""
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(
            executable_path=CHROMIUM,
            args=["--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking"],
        )
        yield started
        started.close()


class Watched:
    """A page that remembers what it asked for and what it complained about."""

    def __init__(self, context: BrowserContext, address: str) -> None:
        self.context = context
        self.address = address
        self.requests: list[str] = []
        self.complaints: list[str] = []
        self.page: Page = context.new_page()
        self.page.on("request", lambda r: self.requests.append(r.url))
        self.page.on("pageerror", lambda e: self.complaints.append(str(e)))
        self.page.on("console", lambda m: self._heard(m.type, m.text))

    def _heard(self, kind: str, text: str) -> None:
        # The browser itself reports that a page answered 404; the page says so in its own words.
        if kind in {"error", "warning"} and "status of 404" not in text:
            self.complaints.append(text)

    def open(self, path: str) -> Page:
        self.page.goto(self.address + path, wait_until="load")
        return self.page


@pytest.fixture
def watched(browser: Browser, address: str) -> Iterator[Watched]:
    """A page at 1280 by 900, light; fails where the page complains or asks anybody else."""
    context = browser.new_context(viewport={"width": 1280, "height": 900}, color_scheme="light")
    seen = Watched(context, address)
    yield seen
    context.close()
    assert seen.complaints == []
    assert [r for r in seen.requests if not r.startswith((address, "data:"))] == []
