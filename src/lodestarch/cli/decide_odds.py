"""``odds``: how likely results make a limit, by three names."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from lodestarch.cli import decide_options as options
from lodestarch.cli.decide_options import amount, bytes_of
from lodestarch.cli.options import AsJson
from lodestarch.cli.output import say, table
from lodestarch.words.catalogues import term
from lodestarch.words.decide import chance_words, pct, state_words
from lodestarch.words.limits import NamedLimit, limit_words
from lodestarch.words.numbers import DASH, figure, number
from lodestarch.work.pocket.odds import CLAUSES, OddsAnswer, OddsAsked, OneLoad, odds_for, odds_json

__all__ = ["odds"]

_SIGN = {0: "", 1: "≤ ", 2: "> "}


def odds(
    results: Annotated[
        list[str], typer.Argument(help="Seconds: 310, <=62, >400; with tonnes for a clause: 310:500.")
    ],
    u: options.U = None,
    limit: options.Limit = None,
    at_most: options.AtMost = None,
    counts_from: options.CountsFrom = None,
    counts_to: options.CountsTo = None,
    other_u: options.OtherU = None,
    other_bias: options.OtherBias = 0.0,
    other_bias_u: options.OtherBiasU = 0.0,
    drift: Annotated[
        float,
        typer.Option(parser=amount, help="What storage moves it by until it is tested there. [s]"),
    ] = 0.0,
    drift_u: Annotated[float, typer.Option(parser=amount, help="How sure that is. [s]")] = 0.0,
    pressure: Annotated[
        float,
        typer.Option(parser=amount, help="What an uncorrected difference of pressure adds there. [s]"),
    ] = 0.0,
    pressure_u: Annotated[float, typer.Option(parser=amount, help="How sure that is. [s]")] = 0.0,
    retest_u: Annotated[
        float | None,
        typer.Option(parser=amount, help="Scatter of what a retest here draws anew. [s]"),
    ] = None,
    shared_u: Annotated[
        float,
        typer.Option(parser=amount, help="Scatter of what a retest here shares: sample, lab. [s]"),
    ] = 0.0,
    prior_mean: Annotated[float | None, typer.Option(parser=amount, help="Such loads: mean. [s]")] = None,
    prior_sd: Annotated[float | None, typer.Option(parser=amount, help="Such loads: spread. [s]")] = None,
    prior_ln_mean: Annotated[
        float | None, typer.Option(parser=amount, help="Such loads: mean liquefaction number.")
    ] = None,
    prior_ln_sd: Annotated[
        float | None, typer.Option(parser=amount, help="Such loads: spread of it.")
    ] = None,
    prior_file: Annotated[
        Path | None, typer.Option(help="Such loads as a file: seconds, and a weight where there is one.")
    ] = None,
    clause: Annotated[str, typer.Option(help=f"How the limit is judged: {', '.join(CLAUSES)}.")] = "per-load",
    sublot_at_least: Annotated[
        float | None, typer.Option(parser=amount, help="Floor of every sublot, with its average. [s]")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """How likely results make a limit: in truth, on a retest here, at the lab that decides."""
    if clause not in CLAUSES:
        raise typer.BadParameter(f"one of {', '.join(CLAUSES)}", param_hint="--clause")
    asked = OddsAsked(
        results=tuple(results), u=u, limit_s=limit, at_most_s=at_most, counts_from_s=counts_from,
        counts_to_s=counts_to, other_u_s=other_u, other_bias_s=other_bias, other_bias_u_s=other_bias_u,
        drift_s=drift, drift_u_s=drift_u, pressure_s=pressure, pressure_u_s=pressure_u,
        retest_u_s=retest_u, shared_u_s=shared_u, prior_mean_s=prior_mean, prior_sd_s=prior_sd,
        prior_mean_ln=prior_ln_mean, prior_sd_ln=prior_ln_sd, prior_file=bytes_of(prior_file, "--prior-file"),
        clause=clause, sublot_at_least_s=sublot_at_least,
    )  # fmt: skip
    answer = odds_for(asked)
    options.answer_out(
        lambda: odds_json(asked, answer),
        lambda: _say(asked, answer) if answer.answered else None,
        answer.findings,
        answered=answer.answered,
        as_json=as_json,
    )


def _say(asked: OddsAsked, answer: OddsAnswer) -> None:
    limit = limit_words(NamedLimit("", asked.limit_s, asked.at_most_s))
    if answer.clause != "per-load":
        _say_cargo(asked, answer, limit)
    elif len(answer.loads) == 1:
        _say_load(answer.loads[0], limit, stated=answer.loads[0].expected_retest_s is not None, asked=asked)
    else:
        say(f"{term('odds.against-short')} {limit}")
        table(
            [("", "right"), ("u", "right"), (term("odds.true"), "right"), (term("odds.same-lab"), "right"),
             (term("odds.other-lab"), "right"), ("", "left")],
            [_row(one) for one in answer.loads],
        )  # fmt: skip


def _seconds(one: OneLoad) -> str:
    return f"{_SIGN[one.typed.kind.value]}{figure(one.typed.value_s)}"


def _row(one: OneLoad) -> tuple[str, ...]:
    bound = {"AT_LEAST": "≥ ", "AT_MOST": "≤ "}.get(one.says.name, "")
    chances = [
        DASH if p is None else pct(p) if not 0.001 <= p <= 0.999 else f"{bound}{pct(p)}"
        for p in (one.p_true, one.p_same_lab, one.p_other_lab)
    ]
    return (_seconds(one), figure(one.u_s, 1), *chances, state_words(one.state))


def _say_load(one: OneLoad, limit: str, *, stated: bool, asked: OddsAsked) -> None:
    say(term("odds.against", value=_seconds(one), u=figure(one.u_s, 1), limit=limit))
    say(state_words(one.state))
    say()
    rows = [
        ("true", one.p_true, "loads"),
        ("same-lab", one.p_same_lab, "retests"),
        ("other-lab", one.p_other_lab, "loads"),
    ]
    table([("", "left"), ("", "left")], [(term(f"odds.{n}"), _chance(one, p, what)) for n, p, what in rows])
    if stated and one.expected_retest_s is not None:
        say()
        rise = one.expected_retest_s - one.typed.value_s
        if asked.prior_mean_s is not None and one.typed.kind.value == 0:
            said = {"mean": figure(asked.prior_mean_s, 1), "prediction": number(one.expected_retest_s, 1)}
            say(term("odds.regression", rise=f"{'+' if rise > 0 else ''}{number(rise, 1)}", **said))
        else:
            say(term("odds.prior"))


def _chance(one: OneLoad, p: float | None, things: str) -> str:
    if p is None:
        return term("odds.not-evaluated")
    words = chance_words(p, things)
    bound = {"AT_LEAST": "odds.at-least", "AT_MOST": "odds.at-most"}.get(one.says.name)
    return term(bound, words=words) if bound else words


def _say_cargo(asked: OddsAsked, answer: OddsAnswer, limit: str) -> None:
    clause = term(f"odds-clause.{answer.clause}", floor=figure(asked.sublot_at_least_s))
    say(term("odds.against-many", count=len(asked.results), limit=limit, clause=clause))
    say(state_words(answer.state))
    say()
    rows = [("true", answer.p_true), ("other-lab", answer.p_other_lab)]
    table(
        [("", "left"), ("", "left")],
        [
            (term(f"odds.{n}"), term("odds.not-evaluated") if p is None else chance_words(p, "cargoes"))
            for n, p in rows
        ],
    )
    if answer.composite_s is not None:
        say(term("odds.composite", seconds=number(answer.composite_s, 1)))
