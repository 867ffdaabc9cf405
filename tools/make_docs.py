"""Write the pages of docs/ that are made from the code, or check that they are up to date.

Usage: python tools/make_docs.py [--check]
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import click
import typer.main

from lodestarch.cli.app import app
from lodestarch.common.nomenclature import QUANTITIES
from lodestarch.method.profile_fields import FIELDS
from lodestarch.method.shipped import shipped_profiles
from lodestarch.words.catalogues import sentences
from lodestarch.words.trade_words import trade_regions, trade_words

ROOT = Path(__file__).resolve().parent.parent
DOCS = ROOT / "docs"


def _cell(text: object) -> str:
    return str(text).replace("|", "\\|").replace("\n", " ")


def _table(head: list[str], rows: list[list[object]]) -> str:
    lines = ["| " + " | ".join(head) + " |", "|" + "---|" * len(head)]
    lines += ["| " + " | ".join(_cell(c) for c in row) + " |" for row in rows]
    return "\n".join(lines) + "\n"


def nomenclature() -> str:
    """Symbols, names, units, legal ranges; then the fields of a profile."""
    quantities = _table(
        ["key", "symbol", "name", "unit", "legal range", "meaning"],
        [[f"`{q.key}`", q.symbol, q.name, q.unit, f"{q.low:.4g} to {q.high:.6g}", q.meaning]
         for q in QUANTITIES.values()],
    )  # fmt: skip
    fields = _table(
        ["field", "name", "unit", "legal", "meaning"],
        [[f"`{f.key}`", f.name, f.unit or "", ", ".join(f.choices) if f.choices else
          (f"{f.low:g} to {f.high:g}" if f.kind == "number" else f.kind), f.meaning] for f in FIELDS.values()],
    )  # fmt: skip
    return (
        "# Nomenclature\n\n"
        "One table of quantities: forms, sheets, messages and JSON read their legal ranges here. A legal range "
        "bounds what can be a value at all; what a method allows is a field of a profile.\n\n"
        f"{quantities}\n## Fields of a method profile\n\n"
        "Every field of a profile carries value, provenance and source; see [profiles](profiles.md).\n\n"
        f"{fields}\n## Words of the trade by region\n\n"
        "What this program calls a thing, and what it is called where you trade. Common practice; no standard fixes "
        "these words.\n\n"
        f"{_table(['here', 'what it is', *trade_regions()], [[w.here, w.means, *w.said] for w in trade_words()])}"
    )


def profiles() -> str:
    """Every field of every shipped profile with its provenance and source."""
    parts = [
        "# The shipped method profiles\n\n"
        "*Recalled* means that nobody has yet held the value against the printed standard. Such a profile works "
        "for everything but certificates; sign each field off against your own copy "
        "(`lodestarch profile sign`).\n"
    ]
    for p in shipped_profiles():
        rows: list[list[object]] = []
        for f in p.fields.values():
            unit = "" if f.unit in {"", "1"} else f" {f.unit}"
            if f.value is None:
                value = "off"
            elif isinstance(f.value, tuple):
                value = "; ".join(f"from {a:g} s: {b:g}" for a, b in f.value)
            else:
                value = f"{f.value:g}{unit}" if isinstance(f.value, float) else f.value
            source = f.source + (f" ({f.note})" if f.note else "")
            rows.append([FIELDS[f.key].name, value, f.provenance.value, source])
        recalled = ", ".join(FIELDS[k].name for k in p.recalled_fields)
        parts.append(
            f"\n## `{p.name}`\n\n{p.title}. Comparable only with: {p.comparable_key}.\n\n"
            f"Recalled: {recalled}.\n\n" + _table(["field", "value", "provenance", "source"], rows)
        )
    return "".join(parts)


def findings() -> str:
    """Every finding code with its sentence."""
    rooms: dict[str, list[list[object]]] = {}
    for code, s in sentences().items():
        rooms.setdefault(s.room, []).append([f"`{code}`", s.wrong, s.do])
    body = "".join(
        f"\n## {room}\n\n" + _table(["code", "what is wrong", "what to do"], sorted(rows, key=str))
        for room, rows in sorted(rooms.items())
    )
    return (
        "# Findings\n\nA finding is a problem in somebody's data: where it is, what is wrong, what to do. Words in "
        f"braces are filled in from the finding's values.\n{body}"
    )


def _help_of(parameter: click.Parameter) -> str:
    """What it is for, what it is when left out, and the environment variable that may hold it."""
    said = (getattr(parameter, "help", None) or "").strip()
    default = parameter.default
    # typer marks "no default" by values of its own; only plain ones are worth telling.
    if isinstance(default, str | int | float | Path) and not isinstance(default, bool) and str(default):
        said += f" Default: `{default}`."
    if parameter.envvar:
        said += f" Also from the environment: `{parameter.envvar}`."
    return said


def commands() -> str:
    """Every command with its arguments and options."""
    root = typer.main.get_command(app)
    parts = [
        "# Commands\n\nExit 0: done; 1: no answer could be given (or `--strict` and findings); 2: wrong usage.\n"
    ]

    def walk(command: object, path: str) -> None:
        inner = getattr(command, "commands", None)
        if inner:
            for name in sorted(inner):
                walk(inner[name], f"{path} {name}")
            return
        text = (getattr(command, "help", "") or "").strip()
        rows: list[list[object]] = []
        for p in command.params:  # type: ignore[attr-defined]
            if p.name == "help":
                continue
            opts = (
                ", ".join(f"`{o}`" for o in p.opts)
                if p.param_type_name == "option"
                else f"`{p.name.upper()}`"
            )
            rows.append([opts, _help_of(p)])
        parts.append(f"\n## `{path}`\n\n{text}\n\n" + (_table(["option", "what for"], rows) if rows else ""))

    walk(root, "lodestarch")
    return "".join(parts)


PAGES: dict[str, Callable[[], str]] = {
    "nomenclature.md": nomenclature,
    "profiles.md": profiles,
    "findings.md": findings,
    "commands.md": commands,
}


def main() -> None:
    """Write, or compare under ``--check``."""
    stale = []
    for name, make in PAGES.items():
        path, text = DOCS / name, make()
        if "--check" in sys.argv[1:]:
            if not path.exists() or path.read_text("utf-8") != text:
                stale.append(name)
        else:
            path.write_text(text, encoding="utf-8")
    if stale:
        sys.exit(f"not up to date: {', '.join(stale)}. Make them again: python tools/make_docs.py")


if __name__ == "__main__":
    main()
