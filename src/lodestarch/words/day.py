"""The sentence on top of a day: what is waiting."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from lodestarch.common.findings import Finding, Severity
from lodestarch.method.day_counts import DayCounts
from lodestarch.words.catalogues import DEFAULT_LOCALE, term

__all__ = ["DaySentence", "day_sentence"]


@dataclass(frozen=True, slots=True)
class DaySentence:
    """What waits, in large type; the rest, quietly; what to settle first."""

    waiting: str
    rest: str
    queries: str

    def __str__(self) -> str:
        return " ".join(p for p in (self.waiting, self.rest, self.queries) if p)


def _counted(name: str, count: int, locale: str) -> list[str]:
    return [term(name, locale, count=count)] if count else []


def _listed(parts: Sequence[str], locale: str) -> str:
    if len(parts) < 2:
        return "".join(parts)
    return term("list.last", locale, first=", ".join(parts[:-1]), last=parts[-1])


def day_sentence(counts: DayCounts, findings: Iterable[Finding], locale: str = DEFAULT_LOCALE) -> DaySentence:
    """Say what a day is waiting for.

    Parameters
    ----------
    counts : DayCounts
    findings : iterable of Finding
        Those of severity *stop* are to be settled first.

    Examples
    --------
    >>> counts = DayCounts(51, 3, 1, 4, 1, samples=60, readings=121, set_aside=0)
    >>> print(day_sentence(counts, []).waiting)
    5 of 60 samples are waiting: 4 to run again and 1 without a reading that counts.
    """
    if counts.samples == 0:
        return DaySentence(term("day.no-samples", locale), "", "")
    waits = counts.run_again + counts.no_result
    parts = _counted("day.run-again", counts.run_again, locale)
    parts += _counted("day.no-result", counts.no_result, locale)
    if waits == 0:
        waiting = term("day.nothing-waits", locale)
    elif len(parts) == 1:
        only = "run-again" if counts.run_again else "no-result"
        name = f"day.only-{only}-one" if waits == 1 else f"day.only-{only}-many"
        waiting = term(name, locale, count=waits, samples=counts.samples)
    else:
        name = "day.waits-many"
        said = _listed(parts, locale)
        waiting = term(name, locale, count=waits, samples=counts.samples, parts=said)
    others = _counted("day.stand", counts.stand, locale) + _counted("day.at-floor", counts.at_floor, locale)
    others += _counted("day.screen", counts.screen, locale)
    rest = term("day.rest", locale, parts=", ".join(others)) if others else ""
    stops = sum(f.severity is Severity.STOP for f in findings)
    name = {0: "day.queries-none", 1: "day.queries-one"}.get(stops, "day.queries-many")
    return DaySentence(waiting, rest, term(name, locale, count=stops))
