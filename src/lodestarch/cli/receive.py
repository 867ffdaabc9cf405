"""``receive SITE``: which load to test, which bin it goes to, and the rule to post."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Annotated

import typer

from lodestarch.cli.files import bytes_of
from lodestarch.cli.options import AsJson, Strict
from lodestarch.cli.output import emit_json, finish, say, show_findings, table
from lodestarch.words.catalogues import term
from lodestarch.words.numbers import DASH, number
from lodestarch.words.receive import range_text, rule_sentence, word_text
from lodestarch.work.planning.receive import ReceiveAnswer

__all__ = ["receive"]


def receive(
    site: Annotated[Path, typer.Argument(metavar="SITE", help="The site: bins, grades, tests (TOML).")],
    loads: Annotated[
        Path | None, typer.Option(help="The loads so far, a row a load; one without a bin waits for a word.")
    ] = None,
    as_json: AsJson = False,
    strict: Strict = False,
) -> None:
    """One word for each load at the probe, and the rule to post on the wall."""
    from lodestarch.work.planning.receive import receive_at
    from lodestarch.work.quality.as_json import as_dict

    answer = receive_at(
        (bytes_of(site), site.name), (bytes_of(loads), loads.name) if loads is not None else None
    )
    if as_json:
        body = as_dict(answer)
        body.pop("site")
        emit_json({"title": answer.site.title if answer.site else None, **body}, answer.findings)
    else:
        if answer.site is not None:
            _show(answer)
        show_findings(answer.findings)
    finish(answer.findings, answered=answer.site is not None, strict=strict)


def _show(answer: ReceiveAnswer) -> None:
    if answer.site is None or answer.rule is None:
        return
    say(rule_sentence(answer.rule, answer.site.mode))
    say(
        term(
            "receive.left",
            tests=answer.tests_left,
            loads=answer.loads_left,
            renew=answer.rule.loads_until_renewed,
        )
    )
    if answer.waiting:
        say()
        heads = ("ticket", "word", "bin", "expected", "nine-in-ten", "worth", "mark")
        rows = []
        for one in answer.waiting:
            s = one.said
            worth = DASH if s is None or one.known_s is not None else number(s.worth.held, 0)
            rows.append(
                (
                    one.ticket,
                    word_text(s, known=one.known_s is not None),
                    DASH if s is None else s.bin,
                    number(one.known_s, 0)
                    if one.known_s is not None
                    else number(s.expected_fn_s if s else None, 0),
                    ""
                    if s is None or one.known_s is not None
                    else f"{number(s.low_s, 0)} … {number(s.high_s, 0)}",
                    worth,
                    DASH if s is None else number(s.mark, 0),
                )
            )
        sides = ("left", "left", "left", "right", "right", "right", "right")
        columns = [
            (term(f"receive.{h}-column", currency=answer.site.currency), side)
            for h, side in zip(heads, sides, strict=True)
        ]
        table(columns, rows)
    say()
    ranges = {r.bin: r for r in answer.rule.bins}
    table(
        [
            (term("receive.bin-column"), "left"), (term("receive.takes-column"), "left"),
            (term("receive.lies-column"), "right"), (term("receive.room-column"), "right"),
            (term("receive.as-turned-column"), "right"),
        ],
        [
            (
                b.bin, range_text(ranges.get(b.bin)), number(b.tonnes, 0), number(b.room_t, 0),
                number(b.expected_s, 0),
            )
            for b in answer.bins
        ],
    )  # fmt: skip
    if answer.queue is not None:
        q = answer.queue
        say()
        if math.isinf(q.held_min):
            say(term("receive.queue-endless", busy=number(100.0 * q.busy, 0)))
        else:
            say(
                term(
                    "receive.queue",
                    busy=number(100.0 * q.busy, 0),
                    held=number(q.held_min, 0),
                    cost=number(q.cost_a_truck, 2),
                    currency=answer.site.currency,
                )
            )
    say(term("receive.assumes"))
