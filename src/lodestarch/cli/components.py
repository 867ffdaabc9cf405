"""``components FILE COLUMN...``: variance components of nested values."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from lodestarch.cli.files import bytes_of
from lodestarch.cli.options import AsJson, Strict
from lodestarch.cli.output import emit_json, finish, say, show_findings, table
from lodestarch.cli.quality_output import QualityFile, short
from lodestarch.common.findings import in_order
from lodestarch.words.catalogues import term
from lodestarch.words.numbers import number

if TYPE_CHECKING:
    from lodestarch.work.quality.nested_use import NestedUse

__all__ = ["components"]


def components(
    file: QualityFile,
    columns: Annotated[
        list[str], typer.Argument(metavar="COLUMN...", help="Nested columns, outermost first: probe grind.")
    ],
    value: Annotated[
        str | None, typer.Option(help="Column of the values. [default: value, or the last other column]")
    ] = None,
    probability: Annotated[float, typer.Option(min=0.5, max=0.9999, help="Of the intervals.")] = 0.95,
    target_u: Annotated[
        float | None,
        typer.Option(help="Find the cheapest numbers of probes, grinds and tubes that reach this u. [s]"),
    ] = None,
    cost_probe: Annotated[float, typer.Option(help="Cost of a probe, in any one unit.")] = 1.0,
    cost_grind: Annotated[float, typer.Option(help="Cost of a grind.")] = 1.0,
    cost_tube: Annotated[float, typer.Option(help="Cost of a tube.")] = 1.0,
    expected_sd: Annotated[
        float | None,
        typer.Option(help="Look for few hot kernels: sd that tubes and grinding explain. [s]"),
    ] = None,
    sound: Annotated[float | None, typer.Option(help="Falling number of that grain unsprouted. [s]")] = None,
    as_json: AsJson = False,
    strict: Strict = False,
) -> None:
    """Split the variance of values among probe, grind, tube, or any nesting."""
    from lodestarch.work.quality.as_json import as_dict
    from lodestarch.work.quality.files import components_file, value_column
    from lodestarch.work.quality.nested_use import UseAsked, use_of_components

    data = bytes_of(file)
    value = value or value_column(data, file.name, columns)
    answer = components_file(data, file.name, columns, value=value, probability=probability)
    asked = UseAsked(target_u, cost_probe, cost_grind, cost_tube, expected_sd, sound)
    use = use_of_components(answer, value, columns[0], asked)
    report, findings = answer.report, in_order((*answer.findings, *use.findings))
    if as_json:
        body = as_dict(report) if report else {}
        emit_json({**body, "plan": as_dict(use.plan), "spread": as_dict(use.spread)}, findings)
    else:
        if report is not None and report.components:
            say(term("quality.mean-said", mean=short(report.mean), u=short(report.u_mean, 2), n=report.n))
            say()
            share = number(100.0 * report.probability, 0)
            heads = [
                (term("quality.component-column"), "left"), (term("quality.nodes-column"), "right"),
                (term("quality.component-sd"), "right"),
                (term("quality.interval-column", share=share).removesuffix(", s"), "right"),
                (term("quality.component-share"), "right"), (term("quality.dof-column"), "right"),
            ]  # fmt: skip
            rows = [
                (
                    term("quality.residual") if c.name == "residual" else c.name, str(c.nodes),
                    short(c.sd), f"{short(c.low_sd)} … {short(c.high_sd)}",
                    number(100.0 * c.share, 1), short(c.dof, 3),
                )
                for c in report.components
            ]  # fmt: skip
            table(heads, rows)
        _show_use(use)
        show_findings(findings)
    answered = bool(report and report.components) or use.spread is not None
    finish(findings, answered=answered, strict=strict)


def _show_use(use: NestedUse) -> None:
    if use.plan is not None:
        p = use.plan.best
        name = "quality.plan-said" if use.plan.reached else "quality.plan-best"
        say()
        say(
            term(
                name, probes=p.probes, grinds=p.grinds, tubes=p.tubes, u=number(p.u_s, 1), cost=short(p.cost),
            )
        )  # fmt: skip
    if use.spread is not None:
        s = use.spread
        say()
        say(
            term(
                f"quality.spread-{s.verdict}", subsamples=s.subsamples, observed=short(s.observed_sd_s),
                expected=short(s.expected_sd_s), ratio=number(s.ratio, 1), low=number(s.low, 1),
                high=number(s.high, 1),
            )
        )  # fmt: skip
        if s.many is not None and s.verdict == "more-than-expected":
            say(term("quality.spread-many", many=number(s.many, 0)))
