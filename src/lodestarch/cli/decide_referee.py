"""``referee``: two labs differ."""

from __future__ import annotations

from typing import Annotated

import typer

from lodestarch.cli import decide_options as options
from lodestarch.cli.decide_options import amount
from lodestarch.cli.options import AsJson
from lodestarch.cli.output import say
from lodestarch.decide.referee import Verdict
from lodestarch.words.catalogues import term
from lodestarch.words.decide import how_often
from lodestarch.words.numbers import figure, number
from lodestarch.work.pocket.referee import (
    PAYS_RULES,
    REFEREE_RULES,
    RefereeAnswer,
    RefereeAsked,
    referee_for,
    referee_json,
)

__all__ = ["referee"]

_CORRECTED = ("none", "by-instrument", "by-lab")


def referee(
    results: Annotated[list[str], typer.Argument(help="The first lab's result and the second's: 320 280.")],
    repeat_u: Annotated[
        float, typer.Option(parser=amount, help="Repeatability standard deviation of one result. [s]")
    ],
    between_u: Annotated[
        float,
        typer.Option(parser=amount, help="Reproducibility standard deviation, between labs. [s]"),
    ],
    third: Annotated[
        str | None, typer.Option(help="A third lab's result on the retained sample. [s]")
    ] = None,
    rule: Annotated[
        str | None, typer.Option(help=f"What was agreed for it: {', '.join(REFEREE_RULES)}.")
    ] = None,
    paid_by: Annotated[
        str, typer.Option(help=f"Who was agreed to pay the third test: {', '.join(PAYS_RULES)}.")
    ] = "loser",
    basis: Annotated[
        list[str] | None, typer.Option(help="Moisture basis, 14 or as-is; once for both, or twice.")
    ] = None,
    tubes: Annotated[list[int] | None, typer.Option(help="Tubes of a result; once, or twice.")] = None,
    corrected: Annotated[
        list[str] | None, typer.Option(help=f"Pressure correction: {', '.join(_CORRECTED)}; once, or twice.")
    ] = None,
    pressure: Annotated[
        list[float] | None, typer.Option(help="Station pressure; once, or twice. [hPa]")
    ] = None,
    portion: Annotated[list[float] | None, typer.Option(help="Base portion; once, or twice. [g]")] = None,
    as_json: AsJson = False,
) -> None:
    """Two labs differ: by more than they should, run alike, what a third result makes of it, who pays."""
    if rule is not None and rule not in REFEREE_RULES:
        raise typer.BadParameter(f"one of {', '.join(REFEREE_RULES)}", param_hint="--rule")
    if paid_by not in PAYS_RULES:
        raise typer.BadParameter(f"one of {', '.join(PAYS_RULES)}", param_hint="--paid-by")
    if set(corrected or ()) - set(_CORRECTED):
        raise typer.BadParameter(f"one of {', '.join(_CORRECTED)}", param_hint="--corrected")
    asked = RefereeAsked(
        results=tuple(results), repeat_s=repeat_u, between_s=between_u, third=third, rule=rule,
        basis=tuple(basis or ()), tubes=tuple(tubes or ()), corrected=tuple(corrected or ()),
        pressure_hpa=tuple(pressure or ()), portion_g=tuple(portion or ()),
        paid_by=paid_by,
    )  # fmt: skip
    answer = referee_for(asked)
    options.answer_out(
        lambda: referee_json(asked, answer),
        lambda: _say(asked, answer),
        answer.findings,
        answered=answer.analysis is not None,
        as_json=as_json,
    )


def _say(asked: RefereeAsked, answer: RefereeAnswer) -> None:
    got = answer.analysis
    if got is None:
        return
    first, second = figure(answer.first_s, 1), figure(answer.second_s, 1)
    apart = number(abs(got.difference_s), 1)
    say(term("referee.difference", first=first, second=second, difference=apart))
    critical = number(got.critical_s, 1)
    if got.verdict is Verdict.NOT_COMPARABLE:
        say(term("referee.not-comparable"))
        return
    if got.verdict is Verdict.AGREE:
        _sentence(term("referee.agree", critical=critical, mean=figure(got.mean_s, 1)))
        return
    _sentence(term("referee.differ", critical=critical))
    _sentence(term("referee.by-chance", often=how_often(got.p_larger)))
    if got.needs_third:
        say(term("referee.needs-third"))
    if got.final_s is not None and asked.rule is not None:
        rule = term(f"referee-rule.{asked.rule}")
        third, final = figure(answer.third_s, 1), number(got.final_s, 1)
        say(term("referee.final", third=third, final=final, rule=rule))
    if got.pays is not None:
        agreed = "" if asked.paid_by == "loser" else "-agreed"
        _sentence(term(f"referee.pays-{got.pays.value}{agreed}"))


def _sentence(text: str) -> None:
    say(text[:1].upper() + text[1:])
