"""The retests of a load as a ticket's page shows them."""

from __future__ import annotations

from dataclasses import dataclass

from lodestarch.method.reading import Kind
from lodestarch.words.catalogues import term
from lodestarch.words.findings import sentence
from lodestarch.words.numbers import figure, number
from lodestarch.words.times import when
from lodestarch.work.office.retests_combined import OneTest, RetestStory

__all__ = ["RetestLine", "RetestsView", "retests_view"]

_SIGN = {Kind.EXACT: "", Kind.AT_OR_BELOW: "≤\u00a0", Kind.ABOVE: ">\u00a0"}


@dataclass(frozen=True, slots=True)
class RetestLine:
    """One test of the load."""

    code: str
    made_from: str
    asked: str
    seconds: str
    reason: str
    is_this: bool


@dataclass(frozen=True, slots=True)
class RetestsView:
    """Tests of one load, and what the rule makes of them.

    Parameters
    ----------
    said : tuple of str
        What counts and why, what waits; what keeps the rule from giving a number.
    of : str
        On the page of a retest: of what, from what, by which rule.
    lines : tuple of RetestLine
    """

    said: tuple[str, ...]
    of: str
    lines: tuple[RetestLine, ...]


def retests_view(story: RetestStory, code: str) -> RetestsView:
    """Put the retests of a load into words, for the page of one of its samples."""
    rule = term(f"retest-rule.{story.rule.value}")
    own = next((t for t in story.tests if t.code == code and t.made_from is not None), None)
    of = ""
    if own is not None:
        of = term("retests.of", code=story.first, source=term(f"retest-source.{own.made_from}"), rule=rule)
    return RetestsView(
        tuple(_said(story, rule)), of, tuple(_line(t, is_this=t.code == code) for t in story.tests)
    )


def _said(story: RetestStory, rule: str) -> list[str]:
    said = []
    if story.counts_s is not None:
        results = ", ".join(figure(t.seconds) for t in story.tests if t.state == "there")
        said.append(term("retests.counts", rule=rule, seconds=number(story.counts_s, 1), results=results))
        if story.void:
            said.append(term("retests.void", sd=number(story.appeal_sd_s, 1)))
    if story.why_not is not None:
        told = sentence(story.why_not)
        wrong = told.wrong[:1].upper() + told.wrong[1:]
        said.append(f"{wrong}. {told.do}")
    waits = [t.code for t in story.tests if t.state == "waits"]
    if waits:
        said.append(term("retests.waits", codes=", ".join(waits)))
    return said


def _line(test: OneTest, *, is_this: bool) -> RetestLine:
    source = "first" if test.made_from is None else ""
    asked = ""
    if test.asked_at is not None:
        at = when(test.asked_at.astimezone())
        asked = (
            term("retests.asked-by", when=at, whom=test.asked_by)
            if test.asked_by
            else term("retests.asked", when=at)
        )
    seconds = term(f"retests.state-{test.state}") if test.state in {"waits", "held"} else ""
    return RetestLine(
        test.code,
        term("retests.first") if source else term(f"retest-source.{test.made_from}"),
        asked,
        seconds or f"{_SIGN[test.kind]}{figure(test.seconds)}",
        ", ".join(part for part in (test.rule_from, test.reason) if part),
        is_this,
    )
