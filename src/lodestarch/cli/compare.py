"""``compare FILE``: two instruments or labs on the same samples."""

from __future__ import annotations

import math
from typing import Annotated

import typer

from lodestarch.cli.files import bytes_of
from lodestarch.cli.options import AsJson, Strict
from lodestarch.cli.output import emit_json, finish, say, show_findings, table
from lodestarch.cli.quality_output import Picture, QualityFile, draw, short
from lodestarch.control.comparison import Comparison
from lodestarch.words.catalogues import term
from lodestarch.words.numbers import number

__all__ = ["compare"]


def compare(
    file: QualityFile,
    margin: Annotated[
        float | None,
        typer.Option(help="Largest mean difference that does not matter, stated beforehand. [s]"),
    ] = None,
    ratio: Annotated[
        float, typer.Option(help="Error variance of b over that of a, for Deming's line.")
    ] = 1.0,
    probability: Annotated[float, typer.Option(min=0.5, max=0.9999, help="Of the intervals.")] = 0.95,
    picture: Picture = None,
    as_json: AsJson = False,
    strict: Strict = False,
) -> None:
    """Compare two columns a and b of the same samples; u_a and u_b where known."""
    from lodestarch.words.drawing.quality_pictures import HEIGHT_PX, comparison_picture
    from lodestarch.work.quality.as_json import as_dict
    from lodestarch.work.quality.files import comparison_file

    answer = comparison_file(bytes_of(file), file.name, margin=margin, ratio=ratio, probability=probability)
    report = answer.report
    if report is not None:
        a, b = answer.columns.numbers["a"], answer.columns.numbers["b"]
        both = [(p, q) for p, q in zip(a, b, strict=True) if math.isfinite(p) and math.isfinite(q)]
        drawn = comparison_picture([p for p, _ in both], [q for _, q in both], report) if both else None
        draw(picture, [(drawn, HEIGHT_PX)] if drawn else [], tell=not as_json)
    if as_json:
        emit_json(as_dict(report) if report else {}, answer.findings)
    else:
        if report is not None:
            _show(report)
        show_findings(answer.findings)
    finish(answer.findings, answered=bool(report and report.differences), strict=strict)


def _show(found: Comparison) -> None:
    d = found.differences
    if d is None:
        return
    share = number(100.0 * d.probability, 0)
    said = {
        "mean": short(d.mean), "share": share, "low": short(d.low), "high": short(d.high), "sd": short(d.sd),
        "low_limit": short(d.limits[0]), "high_limit": short(d.limits[1]),
    }  # fmt: skip
    say(term("quality.compare-difference", **said))
    if d.slope_low is not None:
        say(term("quality.compare-slope", low=short(d.slope_low, 3), high=short(d.slope_high, 3)))
    if found.equivalence is not None:
        e = found.equivalence
        verdict = term(f"quality.verdict-{e.verdict}")
        inner = number(100.0 * (1.0 - 2.0 * e.alpha), 0)
        say(
            term(
                "quality.compare-equivalent",
                margin=short(e.margin),
                verdict=verdict,
                share=inner,
                low=short(e.low),
                high=short(e.high),
            )
        )
    say()
    names = {
        "deming": term("quality.deming", ratio=short(found.ratio, 3)),
        "passing_bablok": term("quality.passing-bablok"),
        "known_variances": term("quality.known-variances"),
    }
    lines = [(names[k], getattr(found, k)) for k in names if getattr(found, k) is not None]
    span = term("quality.interval-column", share=share).removesuffix(", s")
    table(
        [
            (term("quality.line-method-column"), "left"), (term("quality.intercept-column"), "right"),
            (span, "right"), (term("quality.slope-column"), "right"), (span, "right"),
        ],
        [
            (
                name, short(line.intercept), f"{short(line.intercept_low)} … {short(line.intercept_high)}",
                short(line.slope), f"{short(line.slope_low)} … {short(line.slope_high)}",
            )
            for name, line in lines
        ],
    )  # fmt: skip
