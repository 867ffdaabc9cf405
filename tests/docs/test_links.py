"""No dead link in README, docs and examples; no machine path and no address that a page would fetch."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PAGES = sorted([*ROOT.glob("*.md"), *ROOT.glob("docs/**/*.md"), *ROOT.glob("examples/**/*.md")])
LINK = re.compile(r"\]\(([^)#\s]+)(#[^)]*)?\)")


@pytest.mark.parametrize("page", PAGES, ids=lambda p: str(p.relative_to(ROOT)))
def test_every_link_leads_somewhere(page):
    targets = [t for t, _ in LINK.findall(page.read_text("utf-8")) if not re.match(r"[a-z]+:", t)]
    assert [t for t in targets if not (page.parent / t).exists()] == []


def test_readme_reaches_every_page_of_the_docs():
    seen: set[Path] = set()
    waiting = [ROOT / "README.md"]
    while waiting:
        page = waiting.pop()
        if page in seen or page.suffix != ".md":
            continue
        seen.add(page)
        for target, _ in LINK.findall(page.read_text("utf-8")):
            if not re.match(r"[a-z]+:", target):
                waiting.append((page.parent / target).resolve())
    assert [str(p.relative_to(ROOT)) for p in PAGES if "docs" in p.parts and p not in seen] == []
