"""``aim``: the number to show here so that the lab that decides passes it."""

from __future__ import annotations

import math
from typing import Annotated, cast, get_args

import typer

from lodestarch.cli import decide_options as options
from lodestarch.cli.decide_options import amount
from lodestarch.cli.options import AsJson
from lodestarch.cli.output import say
from lodestarch.decide.risk import WantedRisk
from lodestarch.words.catalogues import term
from lodestarch.words.decide import pct
from lodestarch.words.numbers import figure, number
from lodestarch.work.pocket.aim import AimAnswer, AimAsked, aim_for, aim_json

__all__ = ["aim"]

_SIDES = get_args(WantedRisk)


def aim(
    u: options.U = None,
    limit: options.Limit = None,
    at_most: options.AtMost = None,
    counts_from: options.CountsFrom = None,
    counts_to: options.CountsTo = None,
    wanted: Annotated[
        float, typer.Option(parser=amount, help="How often it has to pass, such as 0.95.")
    ] = 0.95,
    other_u: options.OtherU = None,
    other_bias: options.OtherBias = 0.0,
    other_bias_u: options.OtherBiasU = 0.0,
    lots_mean: Annotated[
        float | None, typer.Option(parser=amount, help="Loads as they come, for the risks: mean. [s]")
    ] = None,
    lots_sd: Annotated[float | None, typer.Option(parser=amount, help="Their spread. [s]")] = None,
    risk: Annotated[
        float | None,
        typer.Option(parser=amount, help="A wanted risk, such as 0.02: the rule that runs it."),
    ] = None,
    side: Annotated[str, typer.Option(help=f"Whose risk: {', '.join(_SIDES)}.")] = "consumer",
    as_json: AsJson = False,
) -> None:
    """The number to show here so that the other lab passes it as often as wanted; risks of a rule."""
    if side not in _SIDES:
        raise typer.BadParameter(f"one of {', '.join(_SIDES)}", param_hint="--side")
    asked = AimAsked(
        u=u, limit_s=limit, at_most_s=at_most, counts_from_s=counts_from, counts_to_s=counts_to,
        wanted=wanted, other_u_s=other_u, other_bias_s=other_bias, other_bias_u_s=other_bias_u,
        lots_mean_s=lots_mean, lots_sd_s=lots_sd, risk=risk, side=cast("WantedRisk", side),
    )  # fmt: skip
    answer = aim_for(asked)
    options.answer_out(
        lambda: aim_json(asked, answer),
        lambda: _say(asked, answer),
        answer.findings,
        answered=answer.aim is not None,
        as_json=as_json,
    )


def _say(asked: AimAsked, answer: AimAnswer) -> None:
    aim = answer.aim
    if aim is None:
        return
    of = 100 if math.isclose(100.0 * asked.wanted, round(100.0 * asked.wanted)) else 1000
    often = term("aim.often", n=figure(of * asked.wanted, 0), of=of)
    there = "" if answer.at_other_lab else "-true"
    window = asked.limit_s is not None and asked.at_most_s is not None
    if window:
        said = {"show": figure(aim.show_s), "most": figure(aim.show_to_s), "best": number(aim.best_s)}
        say(term(f"aim.show-window{there}", often=often, pct=pct(aim.best_p), **said))
    elif asked.limit_s is None:
        say(
            term(
                f"aim.show-most{there}",
                show=figure(aim.show_to_s),
                limit=figure(asked.at_most_s),
                often=often,
            )
        )
    else:
        say(term(f"aim.show{there}", show=figure(aim.show_s), limit=figure(asked.limit_s), often=often))
    edge = aim.from_s - asked.limit_s if asked.limit_s is not None else (asked.at_most_s or 0.0) - aim.to_s
    if math.isfinite(edge) and not window:
        say(term("aim.guard", guard=number(edge, 1)))
    _say_risks(asked, answer)


def _say_risks(asked: AimAsked, answer: AimAnswer) -> None:
    got, rule = answer.risks, answer.rule
    if got is not None:
        say()
        mean, sd = figure(asked.lots_mean_s, 1), figure(asked.lots_sd_s, 1)
        say(term("aim.risks", mean=mean, sd=sd, consumer=pct(got.consumer), producer=pct(got.producer)))
        said = {"false": pct(got.false_among_accepted), "good": pct(got.good_among_rejected)}
        say(term("aim.of-taken", **said))
    if rule is not None and asked.risk is not None:
        words = {
            "side": term(f"aim.{asked.side}"),
            "risk": pct(asked.risk),
            "accept": number(
                rule.accept_from_s if math.isfinite(rule.accept_from_s) else rule.accept_to_s, 1
            ),
            "most": number(rule.accept_to_s, 1),
        }
        both = math.isfinite(rule.accept_from_s) and math.isfinite(rule.accept_to_s)
        up = math.isfinite(rule.accept_from_s)
        say(term("aim.rule-window" if both else "aim.rule" if up else "aim.rule-most", **words))
