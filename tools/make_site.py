"""Build the documentation as pages under out/site, without a network; a warning is a failure.

Usage: python tools/make_site.py [--to FOLDER] [--pages-only]
"""

from __future__ import annotations

import argparse
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from lodestarch.words.face import roles_css

ROOT = Path(__file__).resolve().parent.parent
FONTS = ROOT / "src" / "lodestarch" / "web" / "static" / "fonts"
REFERENCE_ROOMS = ("common", "method", "tube", "precision", "control", "decide", "trade", "plan", "season")
"""Rooms that compute and touch nothing outside: the library that others may call."""

CONTENTS: dict[str, tuple[str, ...]] = {
    "Start": ("docs/start", "docs/harvest-day", "docs/roles", "docs/what-the-number-means", "docs/limits"),
    "At the bench": ("docs/bench-sheet", "docs/method", "docs/profiles", "docs/precision", "docs/tube"),
    "In the office": (
        "docs/decide",
        "docs/trade",
        "docs/terms",
        "docs/receive",
        "docs/plan",
        "docs/loadout",
        "docs/season",
    ),
    "Look up": ("docs/commands", "docs/json", "docs/findings", "docs/nomenclature"),
    "Trust": ("docs/records", "docs/reliability", "docs/performance", "docs/scale", "docs/dependencies"),
    "Develop": (
        "docs/tour",
        "docs/tube-model",
        "CONTRIBUTING",
        "CHANGELOG",
        "examples/broadbalk/README",
        "examples/season/README",
    ),
}
"""Order of the pages. A page of docs/ that is not named here is listed after the others of *Look up*."""


def stage(source: Path, *, reference: bool) -> None:
    """Lay out the pages as Sphinx wants them: our Markdown as it is, one made page a room."""
    for name in ("README.md", "CONTRIBUTING.md", "CHANGELOG.md"):
        shutil.copy(ROOT / name, source / name)
    shutil.copytree(ROOT / "docs", source / "docs")
    shutil.copytree(ROOT / "examples", source / "examples")
    files = source / "_site" / "theme" / "lodestarch" / "static"
    shutil.copytree(ROOT / "site", source / "_site")
    (files / "face.css").write_text(roles_css(), "utf-8")
    for font in FONTS.glob("*.woff2"):
        shutil.copy(font, files / font.name)
    rooms = [_room_page(source, room) for room in REFERENCE_ROOMS] if reference else []
    (source / "index.md").write_text(_index(source, rooms), "utf-8")


def _index(source: Path, rooms: list[str]) -> str:
    named = {page for pages in CONTENTS.values() for page in pages}
    others = sorted(
        page
        for p in (source / "docs").rglob("*.md")
        if (page := p.relative_to(source).with_suffix("").as_posix()) not in named
    )
    groups = {k: [p for p in v if (source / f"{p}.md").exists()] for k, v in CONTENTS.items()}
    groups["Look up"] += others
    if rooms:
        groups["Python"] = rooms
    readme = (source / "README.md").read_text("utf-8")
    trees = "".join(
        f"```{{toctree}}\n:hidden:\n:caption: {caption}\n:titlesonly:\n\n" + "\n".join(pages) + "\n```\n\n"
        for caption, pages in groups.items()
    )
    (source / "README.md").unlink()
    return readme + "\n" + trees


def _room_page(source: Path, room: str) -> str:
    """Write the reference page of one room: every public module in it, from its docstrings."""
    package = ROOT / "src" / "lodestarch" / room
    modules = sorted(
        ".".join(p.relative_to(ROOT / "src").with_suffix("").parts)
        for p in package.rglob("*.py")
        if not any(part.startswith("_") for part in p.relative_to(package).parts)
    )
    home = source / "python" / room
    home.mkdir(parents=True)
    for module in modules:
        title = module.removeprefix("lodestarch.")
        (home / f"{title}.md").write_text(f"# `{title}`\n\n{_autodoc(module)}", "utf-8")
    listed = "\n".join(f"{room}/{m.removeprefix('lodestarch.')}" for m in modules)
    page = source / "python" / f"{room}.md"
    page.write_text(
        f"# `lodestarch.{room}`\n\n{_autodoc(f'lodestarch.{room}')}\n"
        f"## Modules\n\n```{{toctree}}\n:titlesonly:\n\n{listed}\n```\n",
        "utf-8",
    )
    return f"python/{room}"


def _autodoc(module: str) -> str:
    return f"```{{eval-rst}}\n.. automodule:: {module}\n```\n"


def dead_links(built: Path) -> list[str]:
    """Links and pictures of the built pages that lead to no file of the site."""
    dead = []
    for page in built.rglob("*.html"):
        for target in re.findall(r'(?:href|src)="([^"#?]+)', page.read_text("utf-8")):
            if re.match(r"[a-z]+:", target):
                continue
            if not (page.parent / target).exists():
                dead.append(f"{page.relative_to(built)}: {target}")
    return dead


def build(to: Path, *, reference: bool) -> int:
    """Build the site into ``to``; 0 when no page warned and no link is dead."""
    with tempfile.TemporaryDirectory() as folder:
        source = Path(folder) / "source"
        source.mkdir()
        stage(source, reference=reference)
        command = [
            "-b",
            "html",
            "-q",
            "-W",
            "--keep-going",
            "-c",
            str(source / "_site"),
            "-d",
            str(Path(folder) / "read"),
        ]
        code = subprocess.run(
            [sys.executable, "-m", "sphinx", *command, str(source), str(to)], check=False
        ).returncode
    for line in (dead := dead_links(to)):
        print(f"leads nowhere: {line}", file=sys.stderr)
    return 1 if code or dead else 0


def main() -> None:
    """Build, and say where to look."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--to", type=Path, default=ROOT / "out" / "site")
    options.add_argument("--pages-only", action="store_true", help="without the Python reference")
    given = options.parse_args()
    if build(given.to, reference=not given.pages_only):
        sys.exit("the documentation does not build cleanly")
    print(f"{given.to / 'index.html'}")


if __name__ == "__main__":
    main()
