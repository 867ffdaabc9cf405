"""``duplicates FILE``: a lab's own pairs, read as scatter, limits, and pairs to look at."""

from __future__ import annotations

from typing import Annotated

import typer

from lodestarch.cli.options import AsJson, Strict
from lodestarch.cli.output import emit_json, finish, say, show_findings, table
from lodestarch.cli.quality_output import Picture, QualityFile, bytes_of, draw, short
from lodestarch.control.duplicates import DuplicateReport
from lodestarch.method.scatter import ScatterLaw
from lodestarch.words.catalogues import term
from lodestarch.words.numbers import number

__all__ = ["duplicates", "law_text"]


def duplicates(
    file: QualityFile,
    probability: Annotated[
        float, typer.Option(min=0.5, max=0.9999, help="Share of good pairs within the limit.")
    ] = 0.95,
    picture: Picture = None,
    as_json: AsJson = False,
    strict: Strict = False,
) -> None:
    """Scatter of one tube by level, from pairs: columns first, second and, where there, sample."""
    from lodestarch.words.drawing.quality_pictures import HEIGHT_PX, duplicates_picture
    from lodestarch.work.quality.as_json import as_dict
    from lodestarch.work.quality.files import duplicates_file, exact_pairs

    answer = duplicates_file(bytes_of(file), file.name, probability=probability)
    report = answer.report
    if report is not None:
        levels, gaps = exact_pairs(answer.columns)
        if levels:
            draw(picture, [(duplicates_picture(levels, gaps, report), HEIGHT_PX)], tell=not as_json)
    if as_json:
        emit_json(as_dict(report) if report else {}, answer.findings)
    else:
        if report is not None:
            _show(report)
        show_findings(answer.findings)
    finish(answer.findings, answered=report is not None and report.scatter.used > 0, strict=strict)


def law_text(law: ScatterLaw) -> str:
    """Say a law of scatter in words."""
    p = law.parameters
    percent = law.kind == "constant-cv"
    return term(
        f"quality.law-{law.kind}",
        a=number(100.0 * p[0], 2) if percent else short(p[0], 3),
        b=number(100.0 * p[1], 2) if law.kind == "constant-plus-proportional" else "",
    )


def _show(report: DuplicateReport) -> None:
    s = report.scatter
    say(term("quality.pairs-said", used=s.used, given=s.given, exact=s.exact, one_sided=s.one_sided))
    if not s.used:
        say(term("quality.no-pairs"))
    say(
        term(
            "quality.law-said",
            law=law_text(s.law),
            weight=number(100.0 * s.prior_weight, 1),
            gross=number(100.0 * s.gross_share, 1),
        )
    )
    say()
    share = number(100.0 * report.levels[0].sd.probability, 0) if report.levels else ""
    heads = [
        term("quality.level-column"), term("quality.sd-column"), term("quality.interval-column", share=share),
        term("quality.limit-column"), term("quality.limit-pct-column"), term("quality.rule-column"),
    ]  # fmt: skip
    table(
        [(h, "right") for h in heads],
        [
            (
                number(one.sd.fn_s, 0), number(one.sd.sd_s, 1),
                f"{number(one.sd.low_s, 1)} … {number(one.sd.high_s, 1)}", number(one.limit_s, 1),
                number(one.limit_pct, 1), number(100.0 * one.p_breaks_percent_rule, 2),
            )
            for one in report.levels
        ],
    )  # fmt: skip
    if report.mean_difference_s is not None:
        mean, u = number(report.mean_difference_s, 1), number(report.u_mean_difference_s, 1)
        say()
        say(term("quality.second-said", mean=mean, u=u))
    if report.far:
        say()
        table(
            [
                (term("quality.far-column"), "left"),
                (term("quality.level-column"), "right"),
                (term("quality.apart-column"), "right"),
                (term("quality.allowed-column"), "right"),
            ],
            [
                (f.name or str(f.row + 1), number(f.level_s, 1), number(f.gap_s, 0), number(f.limit_s, 1))
                for f in report.far
            ],
        )
