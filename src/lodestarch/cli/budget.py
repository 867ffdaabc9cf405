"""``budget SECONDS``: what one result's uncertainty is made of."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Annotated

import typer

from lodestarch.cli.files import bytes_of
from lodestarch.cli.options import AsJson, Strict
from lodestarch.cli.output import emit_json, finish, say, show_findings, table
from lodestarch.cli.quality_output import short
from lodestarch.precision.budget import BudgetLine
from lodestarch.words.catalogues import term
from lodestarch.words.numbers import DASH, number
from lodestarch.words.quality import law_text
from lodestarch.work.quality.budget import BudgetAnswer, BudgetAsked

__all__ = ["budget", "budget_table"]

_SLOPES = ("moisture", "weighing", "water", "pressure")


def budget(
    seconds: Annotated[float, typer.Argument(help="The result. [s]")],
    tubes: Annotated[int, typer.Option(min=1, help="Tubes in the result.")] = 2,
    duplicates: Annotated[
        Path | None, typer.Option(help="Your own pairs, CSV or xlsx: columns first, second.")
    ] = None,
    cv: Annotated[
        float | None, typer.Option(help="CV of one tube, where you have no pairs. [%]  Default: 2.")
    ] = None,
    grinding_sd: Annotated[float | None, typer.Option(help="SD between grinds. [s]")] = None,
    grinds: Annotated[int, typer.Option(min=1, help="Grinds in the result.")] = 1,
    sampling_sd: Annotated[float | None, typer.Option(help="SD between probe samples. [s]")] = None,
    probes: Annotated[int, typer.Option(min=1, help="Probes in the sample.")] = 1,
    moisture_within: Annotated[
        float | None, typer.Option(help="Moisture right to within: the meter's tolerance. [%]")
    ] = None,
    weighing_u: Annotated[float | None, typer.Option(help="Standard uncertainty of a weighing. [g]")] = None,
    water_u: Annotated[float | None, typer.Option(help="Standard uncertainty of the water. [mL]")] = None,
    pressure_u: Annotated[
        float | None, typer.Option(help="Spread of station pressure that is not corrected for. [hPa]")
    ] = None,
    place_sd: Annotated[
        float | None, typer.Option(help="SD between positions, stirrers and tubes. [s]")
    ] = None,
    places: Annotated[int, typer.Option(min=1, help="Distinct places in the result.")] = 1,
    other_sd: Annotated[
        float | None, typer.Option(help="The question is about another lab: SD of its results. [s]")
    ] = None,
    other_bias: Annotated[float, typer.Option(help="What that lab reads above yours. [s]")] = 0.0,
    other_bias_u: Annotated[float, typer.Option(help="How sure that is. [s]")] = 0.0,
    sent_out: Annotated[
        Path | None,
        typer.Option(help="Samples that lab measured too: columns ours, theirs. In place of --other-..."),
    ] = None,
    days: Annotated[float | None, typer.Option(help="Days of storage until the question's date.")] = None,
    drift: Annotated[float, typer.Option(help="Drift in storage. [s/d]")] = 0.0,
    drift_u: Annotated[float, typer.Option(help="How sure that is. [s/d]")] = 0.0,
    slope: Annotated[
        list[str] | None,
        typer.Option(help="A sensitivity of your own: moisture=6.2 (s per %, g, mL, hPa). May be repeated."),
    ] = None,
    probability: Annotated[float, typer.Option(min=0.5, max=0.9999, help="Of the interval.")] = 0.95,
    check: Annotated[bool, typer.Option("--check", help="Check by drawing (GUM Supplement 1).")] = False,
    seed: Annotated[int, typer.Option(help="Of the drawing.")] = 1,
    as_json: AsJson = False,
    strict: Strict = False,
) -> None:
    """Uncertainty budget of one result; what you do not state stays open and is named."""
    import numpy as np

    from lodestarch.work.quality.as_json import as_dict
    from lodestarch.work.quality.budget import answer_budget

    asked = BudgetAsked(
        seconds, tubes, cv, grinding_sd, grinds, sampling_sd, probes, moisture_within, weighing_u, water_u,
        pressure_u, place_sd, places, other_sd, other_bias, other_bias_u, days, drift, drift_u, probability,
        _slopes(slope or []),
    )  # fmt: skip
    answer = answer_budget(
        asked,
        pairs=(bytes_of(duplicates), duplicates.name) if duplicates else None,
        sent_out=(bytes_of(sent_out), sent_out.name) if sent_out else None,
        rng=np.random.default_rng(seed) if check else None,
    )
    if as_json:
        body = as_dict(answer.budget) if answer.budget else {}
        body["simulated"] = as_dict(answer.simulated)
        body["prior_weight"] = answer.fit.prior_weight if answer.fit else None
        emit_json(body, answer.findings)
    else:
        _show(answer)
        show_findings(answer.findings)
    finish(answer.findings, answered=answer.budget is not None, strict=strict)


def _slopes(given: list[str]) -> tuple[tuple[str, float], ...]:
    """Read ``line=seconds`` as typed; anything else is wrong usage."""
    out = []
    for text in given:
        key, _, value = text.partition("=")
        try:
            number_of = float(value.replace(",", "."))
        except ValueError:
            number_of = math.nan
        if key.strip() not in _SLOPES or not math.isfinite(number_of):
            raise typer.BadParameter(term("quality.slope-usage", lines=", ".join(_SLOPES), text=text))
        out.append((key.strip(), number_of))
    return tuple(out)


def _show(answer: BudgetAnswer) -> None:
    b = answer.budget
    if b is None:
        return
    share = number(100.0 * b.probability, 0)
    said = {"seconds": number(b.result_s, 0), "u": number(b.u_s, 1), "half": number(b.half_width_s, 1)}
    say(term("quality.budget-said", k=number(b.k, 2), share=share, **said))
    if b.expected_s != b.result_s:
        say(term("quality.budget-shift", seconds=number(b.expected_s, 1)))
    if not math.isinf(b.dof):
        say(term("quality.budget-dof", dof=number(b.dof, 0)))
    if answer.fit is not None:
        say(
            term(
                "quality.law-said",
                law=law_text(answer.fit.law),
                weight=number(100.0 * answer.fit.prior_weight, 1),
                gross=number(100.0 * answer.fit.gross_share, 1),
            )
        )
    say()
    budget_table(b.lines)
    if b.most_u_s - b.least_u_s > 0.05:
        say(term("quality.budget-range", least=number(b.least_u_s, 1), most=number(b.most_u_s, 1)))
    if answer.simulated is not None:
        s = answer.simulated
        drawn = {
            "draws": number(s.draws, 0),
            "u": number(s.u, 1),
            "low": number(s.low, 1),
            "high": number(s.high, 1),
        }
        say(term("quality.budget-drawn", share=share, **drawn))


def budget_table(lines: tuple[BudgetLine, ...]) -> None:
    """Print the lines of a budget, the largest first, with what was not evaluated at the end."""
    rows = []
    for line in lines:
        c = line.contribution
        unit = c.unit or ""
        given = f"{short(c.u_input, 3)} {unit}".strip() if c.u_input is not None else DASH
        rows.append(
            (
                term(f"quality.line-{c.key}"),
                given,
                short(c.sensitivity, 3) if c.sensitivity is not None else DASH,
                term("quality.not-evaluated") if c.u_s is None else number(c.u_s, 2),
                DASH if line.share is None else number(100.0 * line.share, 0),
                "" if c.u_s is None else c.provenance.value,
            )
        )
    heads = ("line", "input", "sensitivity", "contribution", "share", "source")
    sides = ("left", "right", "right", "right", "right", "left")
    table([(term(f"quality.{h}-column"), side) for h, side in zip(heads, sides, strict=True)], rows)
