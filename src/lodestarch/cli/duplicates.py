"""``duplicates FILE``: a lab's own pairs, read as scatter, limits, and pairs to look at."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated

import typer

from lodestarch.cli.files import bytes_of
from lodestarch.cli.options import AsJson, Strict
from lodestarch.cli.output import emit_json, finish, say, show_findings, table
from lodestarch.cli.quality_output import Picture, QualityFile, draw
from lodestarch.control.duplicates import DuplicateReport
from lodestarch.words.catalogues import term
from lodestarch.words.numbers import number
from lodestarch.words.quality import law_text
from lodestarch.work.quality.fit_growth import FitStep

__all__ = ["duplicates", "show_growth"]


def duplicates(
    file: QualityFile,
    probability: Annotated[
        float, typer.Option(min=0.5, max=0.9999, help="Share of good pairs within the limit.")
    ] = 0.95,
    after: Annotated[
        list[int] | None, typer.Option(min=1, help="Show also the fit after so many pairs; more than once.")
    ] = None,
    picture: Picture = None,
    as_json: AsJson = False,
    strict: Strict = False,
) -> None:
    """Scatter of one tube by level, from pairs: columns first, second and, where there, sample."""
    from lodestarch.words.drawing.quality_pictures import HEIGHT_PX, duplicates_picture
    from lodestarch.work.quality.as_json import as_dict
    from lodestarch.work.quality.files import duplicates_file, exact_pairs
    from lodestarch.work.quality.fit_growth import fit_growth

    answer = duplicates_file(bytes_of(file), file.name, probability=probability)
    report = answer.report
    if report is not None:
        levels, gaps = exact_pairs(answer.columns)
        if levels:
            draw(picture, [(duplicates_picture(levels, gaps, report), HEIGHT_PX)], tell=not as_json)
    grown = fit_growth(file.read_bytes(), file.name, after).steps if after else ()
    if as_json:
        body = as_dict(report) if report else {}
        emit_json({**body, "after": as_dict(grown)} if after else body, answer.findings)
    else:
        if report is not None:
            _show(report)
        if grown:
            say()
            show_growth(grown)
        show_findings(answer.findings)
    finish(answer.findings, answered=report is not None and report.scatter.used > 0, strict=strict)


def show_growth(steps: Sequence[FitStep]) -> None:
    """Print the fit after so many pairs: law, weight of the default, SDs with intervals."""
    levels = [one.fn_s for one in steps[0].fit.levels] if steps else []
    heads = [(term("quality.after-column"), "right"), (term("quality.law-column"), "left")]
    heads += [(term("quality.weight-column"), "right")]
    heads += [(term("quality.sd-at-column", seconds=number(x, 0)), "right") for x in levels]
    rows = []
    for one in steps:
        f = one.fit
        sds = [f"{number(x.sd_s, 1)} ({number(x.low_s, 1)} … {number(x.high_s, 1)})" for x in f.levels]
        rows.append((str(one.pairs), law_text(f.law), number(100.0 * f.prior_weight, 1), *sds))
    table(heads, rows)


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
