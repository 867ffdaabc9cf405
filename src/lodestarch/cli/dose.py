"""``dose``: malt to lower a falling number."""

from __future__ import annotations

from typing import Annotated

import typer

from lodestarch.cli.options import AsJson, decimal
from lodestarch.cli.output import emit_json, finish, say, show_findings
from lodestarch.words.catalogues import term
from lodestarch.words.numbers import figure, number, tidy

__all__ = ["dose"]


def dose(
    target: Annotated[float, typer.Argument(parser=decimal, help="Seconds to reach.")],
    now: Annotated[float, typer.Argument(parser=decimal, help="Seconds of the flour without malt.")],
    trials: Annotated[
        list[str],
        typer.Argument(help="Trial additions, grams of malt per 100 kg and seconds: 50:310 100:262"),
    ],
    cv: Annotated[
        float, typer.Option(help="Standard deviation of each reading over its value.", min=0.0)
    ] = 0.02,
    as_json: AsJson = False,
) -> None:
    """Malt to reach a falling number, from one or two trial additions."""
    from lodestarch.work.pocket.dose import dose_for

    answer = dose_for(target, now, trials, cv=cv)
    d = answer.dose
    if as_json:
        body = {
            "target_s": target,
            "now_s": now,
            "cv": cv,
            "dose_g_per_100kg": None if d is None else round(d.grams_per_100kg, 3),
            "low_g_per_100kg": None if d is None else round(d.low, 3),
            "high_g_per_100kg": None if d is None or d.high is None else round(d.high, 3),
            "slope_ln_per_g": None if d is None else round(d.slope_ln, 6),
            "trials": [{"g_per_100kg": t.grams_per_100kg, "seconds": t.seconds_s} for t in answer.trials],
        }
        emit_json(body, answer.findings)
    else:
        if d is not None:
            said = {"dose": number(d.grams_per_100kg, 1), "target": number(target)}
            say(tidy(term("dose.answer", **said)))
            ends = {"low": number(d.low, 1), "high": number(d.high, 1)}
            say(tidy(term("dose.interval" if d.high is not None else "dose.interval-open", **ends)))
            name = "dose.slope" if len(answer.trials) > 1 else "dose.slope-one"
            say(term(name, slope=figure(d.slope_ln, 4), trials=len(answer.trials)))
            say(term("dose.fungal"))
            say(term("dose.check"))
        show_findings(answer.findings)
    finish(answer.findings, answered=d is not None)
