"""``season odds``: odds told against what happened on second tests."""

from __future__ import annotations

from typing import TYPE_CHECKING

from lodestarch.cli.files import bytes_of
from lodestarch.cli.options import DEFAULT_RECORDS, AsJson, RecordsAddress, Strict
from lodestarch.cli.output import emit_json, finish, say, show_findings, table
from lodestarch.cli.season_options import File, Limit, Picture, Sites, kept_of, limit_held
from lodestarch.cli.tube_output import write_text
from lodestarch.words.catalogues import term
from lodestarch.words.numbers import number

if TYPE_CHECKING:
    from lodestarch.season.odds_record import OddsRecord
    from lodestarch.work.season.outcomes import ToldAnswer

__all__ = ["odds"]


def odds(
    file: File = None,
    limit: Limit = 250.0,
    records: RecordsAddress = DEFAULT_RECORDS,
    site: Sites = "",
    out: Picture = None,
    strict: Strict = False,
    as_json: AsJson = False,
) -> None:
    """Odds told against what happened on retests and at other labs.

    FILE has a row a lot: limit_s, found_s, and odds_pct or first_s with u_s. Of the records, second tests are
    held against --limit.
    """
    from lodestarch.words.drawing.alone import alone
    from lodestarch.words.season_calibration import HEIGHT_PX, odds_picture
    from lodestarch.work.season.outcomes import told_of_file, told_of_records
    from lodestarch.work.season.overview_json import told_as_dict

    limit_held(limit)
    if file is not None:
        answer = told_of_file(bytes_of(file), file.name)
    else:
        with kept_of(records, site) as kept:
            answer = told_of_records(kept, limit)
    r = answer.record
    drawn = [p for one in (r.here, r.elsewhere) if (p := odds_picture(one)) is not None]
    if out is not None and drawn:
        write_text(out, alone([(p, HEIGHT_PX) for p in drawn], []))
    if as_json:
        emit_json(told_as_dict(answer), answer.findings)
    else:
        _show(answer)
        if out is not None and drawn:
            say(f"{out}: {out.stat().st_size} bytes")
        show_findings(answer.findings)
    finish(answer.findings, answered=bool(r.lines), strict=strict)


def _show(answer: ToldAnswer) -> None:
    from lodestarch.words.season_calibration import outcome_rows

    r = answer.record
    if not r.lines:
        say(term("season.none-said"))
        return
    _say_one(r.here, term("season-page.odds-here"))
    _say_one(r.elsewhere, term("season-page.odds-away"))
    if not all(x.noted for x in r.lines):
        say(term("season-page.odds-how"))
    say()
    keys = ("lot", "where", "limit-column", "told", "found", "met")
    sides = [(term(f"season-page.{k}"), "left" if k in {"lot", "where"} else "right") for k in keys]
    table(sides, outcome_rows(r.lines)[:40])
    if len(r.lines) > 40:
        say(f"… {len(r.lines) - 40}")


def _say_one(record: OddsRecord, where: str) -> None:
    from lodestarch.words.season import share_text
    from lodestarch.words.season_calibration import odds_rows

    if record.said is None or record.came is None:
        if record.count:
            say(term("season-odds.few", where=where, count=record.count, enough=20))
        return
    said = {"said": share_text(record.said), "came": number(round(record.came * record.count))}
    scores = {"brier": number(record.brier, 3), "flat": number(record.brier_flat, 3)}
    say(term("season-odds.said", where=where, count=record.count, **said, **scores))
    keys = ("told", "came", "from-to", "of-lots")
    table([(term(f"season-page.{k}"), "right") for k in keys], odds_rows(record))
