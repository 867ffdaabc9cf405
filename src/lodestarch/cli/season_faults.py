"""``season faults``: faults in data, each with its evidence."""

from __future__ import annotations

from lodestarch.cli.options import DEFAULT_RECORDS, AsJson, RecordsAddress, Strict
from lodestarch.cli.output import emit_json, finish, say, show_findings, table
from lodestarch.cli.season_options import Factors, File, Floor, Sites, Value, sheet_of
from lodestarch.words.catalogues import term
from lodestarch.words.numbers import number

__all__ = ["faults"]


def faults(
    file: File = None,
    value: Value = None,
    factors: Factors = "",
    floor: Floor = 62.0,
    records: RecordsAddress = DEFAULT_RECORDS,
    site: Sites = "",
    strict: Strict = False,
    as_json: AsJson = False,
) -> None:
    """Copied values, block shifts, mixed-up samples, hidden averages, heaping: each with its evidence."""
    from lodestarch.words.season import fault_rows
    from lodestarch.work.season.answers import faults_of
    from lodestarch.work.season.as_json import faults_as_dict

    answer = faults_of(sheet_of(file, value, factors, floor, records, site))
    if as_json:
        emit_json(faults_as_dict(answer), answer.findings)
    else:
        if not answer.looked:
            say(term("season.none-said"))
        else:
            name = "season.faults-said" if answer.faults else "season.faults-none"
            say(term(name, results=number(answer.results, 0), count=len(answer.faults)))
        if answer.faults:
            say()
            keys = ("kind", "rows", "chance")
            table([(term(f"season.{k}-column"), "left") for k in keys], fault_rows(answer.faults))
        show_findings(answer.findings)
    finish(answer.findings, answered=answer.looked, strict=strict)
