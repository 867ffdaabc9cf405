"""``season export``: the season as open data, with a dictionary and without names."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from lodestarch.cli.options import DEFAULT_RECORDS, AsJson, RecordsAddress, Strict
from lodestarch.cli.output import emit_json, finish, say, show_findings
from lodestarch.cli.season_options import File, Floor, Sites, Value, sheet_of
from lodestarch.common.errors import LodestarchError
from lodestarch.words.catalogues import term
from lodestarch.words.numbers import number

__all__ = ["export"]


def export(
    file: File = None,
    out: Annotated[Path, typer.Option("--out", "-o", help="Folder for the files.")] = Path("out/open-data"),
    licence: Annotated[str, typer.Option(help="Under which it is given, such as CC-BY-4.0.")] = "",
    publisher: Annotated[str, typer.Option(help="Who gives it.")] = "",
    smallest: Annotated[int, typer.Option(help="Results that a cell must have.")] = 5,
    growers: Annotated[int, typer.Option(help="Growers that a cell must have, where they are known.")] = 3,
    names: Annotated[
        bool, typer.Option("--names", help="With growers' names: only where each has agreed.")
    ] = False,
    value: Value = None,
    floor: Floor = 62.0,
    records: RecordsAddress = DEFAULT_RECORDS,
    site: Sites = "",
    strict: Strict = False,
    as_json: AsJson = False,
) -> None:
    """Write the season as open data: CSV, a dictionary of its columns, what was withheld."""
    from lodestarch.work.season.open_data import OpenTerms, open_season
    from lodestarch.work.season.overview_json import open_as_dict

    terms = OpenTerms(licence, publisher, smallest, growers, names)
    data = open_season(sheet_of(file, value, "", floor, records, site), terms)
    for name, content in data.files.items():
        _write(out / name, content)
    if as_json:
        emit_json(open_as_dict(data, terms), data.findings)
    else:
        rows = data.rows
        said = {"given": rows.given, "coarser": rows.coarser, "withheld": rows.withheld}
        say(term("season-open.said", **{k: number(v) for k, v in said.items()}))
        for name, content in data.files.items():
            say(f"{out / name}: {len(content)} bytes")
        show_findings(data.findings)
    finish(data.findings, answered=bool(data.files), strict=strict)


def _write(path: Path, content: bytes) -> None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
    except OSError as cause:
        raise LodestarchError(f"{path} cannot be written: {cause.strerror}") from None
