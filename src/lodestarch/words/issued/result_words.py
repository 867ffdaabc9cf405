"""What several papers say of a result: its figure, what it rests on, its limit, a deviation."""

from __future__ import annotations

from typing import Final

from lodestarch.method.reading import Kind
from lodestarch.words.catalogues import terms
from lodestarch.words.issued.said import Say
from lodestarch.words.issued.sheet import Figure
from lodestarch.words.issued.statement import Certificate, Deviation, StatedResult

__all__ = [
    "SIGN", "basis_said", "correction_said", "deviation_said", "limit_said", "result_figure", "result_said",
    "tubes_said",
]  # fmt: skip

SIGN: Final = {Kind.EXACT: "", Kind.AT_OR_BELOW: "≤", Kind.ABOVE: ">"}
"""What stands before the seconds."""


def correction_said(say: Say, correction: str) -> str:
    """Whether a result was corrected for air pressure, and by what."""
    name = f"issued.correction-{correction.replace(' ', '-')}"
    if name in terms(say.locale):
        return say(name)
    return say("issued.correction-named", name=say.text(correction))


def limit_said(say: Say, low: float | None, high: float | None) -> str:
    """A limit in words; empty where there is none."""
    if low is not None and high is not None:
        return say("issued.window", low=say.figure(low), high=say.figure(high))
    if low is not None:
        return say("issued.at-least", seconds=say.figure(low))
    return say("issued.at-most", seconds=say.figure(high)) if high is not None else ""


def tubes_said(say: Say, result: StatedResult) -> str:
    """How many tubes a result rests on."""
    if not result.tubes_stated:
        return say("issued.tubes-not-stated")
    return say("issued.tubes-one") if result.tubes == 1 else say("issued.tubes-many", count=result.tubes)


def basis_said(say: Say, given: Certificate) -> str:
    """The moisture basis of the result."""
    pct = given.method.basis_pct
    if given.result.as_is or pct is None:
        return say("issued.as-is")
    return say("issued.basis", pct=say.figure(pct))


def result_figure(say: Say, given: Certificate) -> Figure:
    """The result in large numerals."""
    result = given.result
    kind = Kind(result.kind)
    quiet = (tubes_said(say, result), basis_said(say, given), correction_said(say, given.method.correction))
    after = say("issued.stopped") if kind is Kind.ABOVE else ""
    return Figure(SIGN[kind], say.figure(result.seconds, 1), "s", after, " · ".join(quiet))


def result_said(given: Certificate, locale: str) -> str:
    """The result of a certificate in a few signs: ``287 s``, ``≤ 62 s``."""
    say = Say(locale, "certificate")
    figure = result_figure(say, given)
    lead = f"{figure.sign}\u00a0{figure.figure}" if figure.sign else figure.figure
    return f"{lead}\u00a0{figure.unit}" + (f" {figure.after}" if figure.after else "")


def deviation_said(say: Say, one: Deviation) -> str:
    """A deviation in words."""
    name = f"deviation-{one.code}"
    if f"certificate.{name}-one" in terms(say.locale):
        name += "-one" if one.count == 1 else "-many"
    return say(name, count=one.count, value=say.figure(one.value), text=say.text(one.text))
