"""``ringtest FILE``: one material measured by many labs, as precision and as scores."""

from __future__ import annotations

from lodestarch.cli.files import bytes_of
from lodestarch.cli.options import AsJson, Strict
from lodestarch.cli.output import emit_json, finish, say, show_findings, table
from lodestarch.cli.quality_output import QualityFile, short
from lodestarch.control.ring_report import MaterialReport
from lodestarch.words.catalogues import term
from lodestarch.words.numbers import DASH, number

__all__ = ["ringtest"]


def ringtest(file: QualityFile, as_json: AsJson = False, strict: Strict = False) -> None:
    """Read a ring test: columns lab, value and, where there, material, u; a row a determination."""
    from lodestarch.work.quality.as_json import as_dict
    from lodestarch.work.quality.files import ring_file

    answer = ring_file(bytes_of(file), file.name)
    report = answer.report
    if as_json:
        emit_json(as_dict(report) if report else {}, answer.findings)
    else:
        for material in report.materials if report else ():
            _show(material)
        show_findings(answer.findings)
    scored = report is not None and any(m.precision or m.assigned is not None for m in report.materials)
    finish(answer.findings, answered=scored, strict=strict)


def _show(m: MaterialReport) -> None:
    name = m.material or term("quality.one-material")
    say(term("quality.ring-head", material=name, labs=m.labs, n=m.n))
    by = term(f"quality.by-{m.assigned_by}")
    if m.assigned is not None:
        value, u, sigma = short(m.assigned), short(m.u_assigned, 3), short(m.sigma_pt, 3)
        say("  " + term("quality.ring-assigned", value=value, u=u, sigma=sigma, by=by))
    p = m.precision
    if p is not None:
        said = {
            "mean": short(p.mean), "s_r": short(p.s_r, 4), "s_R": short(p.s_R, 4),
            "r": short(p.repeatability, 3), "R": short(p.reproducibility, 3),
        }  # fmt: skip
        say("  " + term("quality.ring-precision", **said))
        for t in p.tests:
            if t.verdict != "inlier":
                test = {
                    "test": t.test, "lab": t.lab, "statistic": number(t.statistic, 3),
                    "five": number(t.critical_5pc, 3), "one": number(t.critical_1pc, 3), "verdict": t.verdict,
                }  # fmt: skip
                say("  " + term("quality.test-said", **test))
    cells = {c.lab: c for c in p.cells} if p else {}
    heads = ("lab", "mean", "h", "k", "z", "z-prime", "zeta", "en", "signal")
    rows = []
    for one in m.scores:
        cell, score = cells.get(one.lab), one.score
        rows.append(
            (
                one.lab,
                short(one.mean),
                _two(cell.h if cell else None),
                _two(cell.k if cell else None),
                _two(score.z if score else None),
                _two(score.z_prime if score else None),
                _two(score.zeta if score else None),
                _two(score.e_n if score else None),
                term("quality.left-out")
                if one.excluded
                else term(f"quality.signal-{score.signal}")
                if score
                else "",
            )
        )
    columns = [(term(f"quality.{h}-column"), "left" if h in {"lab", "signal"} else "right") for h in heads]
    table(columns, rows)
    say()


def _two(value: float | None) -> str:
    return DASH if value is None else number(value, 2)
