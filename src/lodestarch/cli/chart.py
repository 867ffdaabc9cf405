"""``chart FILE``: control charts of check materials."""

from __future__ import annotations

from typing import Annotated

import typer

from lodestarch.cli.files import bytes_of
from lodestarch.cli.options import AsJson, Strict
from lodestarch.cli.output import emit_json, finish, say, show_findings, table
from lodestarch.cli.quality_output import Picture, QualityFile, draw, short
from lodestarch.control.chart_report import ChartReport, MaterialChart
from lodestarch.sheets.plain_columns import PlainColumns
from lodestarch.words.catalogues import term
from lodestarch.words.numbers import number

__all__ = ["chart"]


def chart(
    file: QualityFile,
    baseline: Annotated[
        int | None, typer.Option(min=2, help="First values that set centre and limits. [default: all]")
    ] = None,
    picture: Picture = None,
    as_json: AsJson = False,
    strict: Strict = False,
) -> None:
    """Chart check results: column value and, where there, when, material, target."""
    from lodestarch.words.drawing.quality_pictures import HEIGHT_PX, chart_picture
    from lodestarch.work.quality.as_json import as_dict
    from lodestarch.work.quality.files import chart_file

    answer = chart_file(bytes_of(file), file.name, baseline=baseline)
    report = answer.report
    if report is not None:
        pictures = [
            (chart_picture(m, _values(m, answer.columns)), HEIGHT_PX) for m in report.materials if m.n > 0
        ]
        draw(picture, pictures, tell=not as_json)
    if as_json:
        emit_json(as_dict(report) if report else {}, answer.findings)
    else:
        if report is not None:
            _show(report, answer.columns)
        show_findings(answer.findings)
    charted = report is not None and any(m.individuals is not None for m in report.materials)
    finish(answer.findings, answered=charted, strict=strict)


def _values(material: MaterialChart, columns: PlainColumns) -> list[float]:
    return [columns.numbers["value"][i] for i in material.rows]


def _show(report: ChartReport, columns: PlainColumns) -> None:
    for material in report.materials:
        name = material.material or term("quality.one-material")
        say(
            term(
                "quality.chart-head",
                material=name,
                n=material.n,
                mean=short(material.mean),
                sd=short(material.sd, 3),
            )
        )
        chart, ewma, cusum = material.individuals, material.ewma, material.cusum
        if chart is None or ewma is None or cusum is None:
            say()
            continue
        base = chart.baseline
        said = {
            "centre": short(base.centre), "lower": short(chart.lower_widened),
            "upper": short(chart.upper_widened), "factor": number(chart.factor, 2),
            "baseline": term("quality.unbounded") if base.n is None else base.n,
        }  # fmt: skip
        say("  " + term("quality.chart-limits", **said))
        memory = {
            "ewma": short(ewma.ewma[-1]), "elower": short(ewma.lower), "eupper": short(ewma.upper),
            "high": number(cusum.high[-1], 2), "low": number(cusum.low[-1], 2),
            "climit": number(cusum.limit, 1),
        }  # fmt: skip
        say("  " + term("quality.chart-memory", **memory))
        if not material.signals:
            say("  " + term("quality.chart-calm"))
        else:
            when = columns.texts.get("when")
            values = _values(material, columns)
            table(
                [
                    (term("quality.row-column"), "right"), (term("quality.when-column"), "left"),
                    (term("quality.value-column"), "right"), (term("quality.rule-broken-column"), "left"),
                    ("", "left"),
                ],
                [
                    (
                        str(columns.rows[material.rows[s.at]]),
                        (when[material.rows[s.at]] or "") if when else "", short(values[s.at]), s.rule,
                        term("quality.side-high" if s.side > 0 else "quality.side-low") if s.side else "",
                    )
                    for s in material.signals
                ],
            )  # fmt: skip
        say()
    lengths = report.run_lengths
    say(
        term(
            "quality.chart-promise",
            calm=number(lengths.in_control, 0),
            one=number(lengths.shift_1_sd, 0),
            two=number(lengths.shift_2_sd, 1),
        )
    )
