"""``template`` and ``paper``: blank sheets to fill in, and pages to print."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Annotated

import typer

from lodestarch.cli.options import DEFAULT_RECORDS, ProfileName, RecordsAddress
from lodestarch.cli.output import say
from lodestarch.sheets import templates
from lodestarch.work.bench.paper import blank_sheet_html, wall_table_csv, wall_table_html, wall_table_text
from lodestarch.work.issuing.lab import lab_template
from lodestarch.work.keeping.profiles import profile_named

__all__ = ["paper", "template"]

_TEMPLATES: dict[str, Callable[[], bytes]] = {
    "bench-sheet": templates.bench_sheet_csv,
    "bench-sheet.xlsx": templates.bench_sheet_xlsx,
    "sample-sheet": templates.sample_sheet_csv,
    "sample-sheet.xlsx": templates.sample_sheet_xlsx,
    "terms": templates.terms_toml,
    "terms.csv": templates.terms_csv,
    "plan": templates.plan_toml,
    "receive": templates.receive_toml,
    "receive-loads.csv": templates.loads_csv,
    "loadout": templates.loadout_toml,
    "loadout-sublots.csv": templates.sublots_csv,
    "mapping": templates.mapping_toml,
    "lab": lab_template,
}
_PAPERS = {
    "wall-table": wall_table_html,
    "wall-table.csv": wall_table_csv,
    "wall-table.txt": wall_table_text,
    "bench-sheet": blank_sheet_html,
}

_Out = Annotated[Path | None, typer.Option("--out", "-o", help="File to write. [default: standard output]")]


def _write(data: bytes, out: Path | None) -> None:
    if out is None:
        sys.stdout.buffer.write(data)
        sys.stdout.flush()
        return
    out.parent.mkdir(parents=True, exist_ok=True)
    out.write_bytes(data)
    say(f"{out}: {len(data)} bytes")


def template(
    kind: Annotated[str, typer.Argument(help=f"One of: {', '.join(_TEMPLATES)}.")], out: _Out = None
) -> None:
    """Write a blank sheet or file to fill in."""
    if kind not in _TEMPLATES:
        raise typer.BadParameter(f"one of {', '.join(_TEMPLATES)}", param_hint="KIND")
    if out is None and kind.endswith(".xlsx"):
        raise typer.BadParameter("a workbook needs --out FILE", param_hint="--out")
    _write(_TEMPLATES[kind](), out)


def paper(
    kind: Annotated[str, typer.Argument(help=f"One of: {', '.join(_PAPERS)}.")],
    profile: ProfileName = None,
    records: RecordsAddress = DEFAULT_RECORDS,
    out: _Out = None,
) -> None:
    """Write a page to print: the portion table for the wall, or an empty bench sheet for a power cut."""
    if kind not in _PAPERS:
        raise typer.BadParameter(f"one of {', '.join(_PAPERS)}", param_hint="KIND")
    _write(_PAPERS[kind](profile_named(profile, records)).encode("utf-8"), out)
