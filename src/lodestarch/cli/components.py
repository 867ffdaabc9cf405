"""``components FILE COLUMN...``: variance components of nested values."""

from __future__ import annotations

from typing import Annotated

import typer

from lodestarch.cli.files import bytes_of
from lodestarch.cli.options import AsJson, Strict
from lodestarch.cli.output import emit_json, finish, say, show_findings, table
from lodestarch.cli.quality_output import QualityFile, short
from lodestarch.words.catalogues import term
from lodestarch.words.numbers import number

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
    as_json: AsJson = False,
    strict: Strict = False,
) -> None:
    """Split the variance of values among probe, grind, tube, or any nesting."""
    from lodestarch.work.quality.as_json import as_dict
    from lodestarch.work.quality.files import components_file

    answer = components_file(bytes_of(file), file.name, columns, value=value, probability=probability)
    report = answer.report
    if as_json:
        emit_json(as_dict(report) if report else {}, answer.findings)
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
        show_findings(answer.findings)
    finish(answer.findings, answered=bool(report and report.components), strict=strict)
