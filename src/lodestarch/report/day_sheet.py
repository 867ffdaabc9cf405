"""The day sheet: what a day's bench sheet comes to, on paper."""

from __future__ import annotations

from collections.abc import Sequence

from lodestarch.common.findings import Severity
from lodestarch.method.profile import Profile
from lodestarch.report.page import rendered
from lodestarch.words.accounts import account_words
from lodestarch.words.bins import bin_tonnes, bin_words
from lodestarch.words.catalogues import DEFAULT_LOCALE, term
from lodestarch.words.day import day_sentence
from lodestarch.words.drawing.strip import day_strip
from lodestarch.words.findings import grouped
from lodestarch.words.limits import LimitShape
from lodestarch.words.register import floor_of, register, strip_key, strip_marks
from lodestarch.words.result import basis_words, correction_words
from lodestarch.words.shapes import DayShape
from lodestarch.words.times import when

__all__ = ["day_sheet", "running_line"]


def running_line(day: DayShape, locale: str = DEFAULT_LOCALE) -> str:
    """What identifies the sheet on every page: title, file, its digest, when it was read."""
    return term(
        "paper.running",
        locale,
        title=day.title,
        sheet=day.sheet.name,
        digest=day.sheet.sha256[:12],
        at=when(day.read_at),
    )


def _common(day: DayShape, locale: str) -> str:
    """Moisture basis and correction, where they are the same for the whole register."""
    profiles = {p.name: p for p in day.profiles}
    said = {
        (basis_words(profiles.get(name or ""), locale), correction_words(correction, locale))
        for name, correction in day.results.select("profile", "correction").unique().iter_rows()
    }
    return " · ".join(said.pop()) if len(said) == 1 else ""


def _profile_line(profile: Profile, locale: str) -> str:
    said = term("paper.profile", locale, name=profile.name, title=profile.title)
    open_fields = len(profile.recalled_fields)
    return said + (" " + term("paper.recalled", locale, count=open_fields) if open_fields else "")


def _grounds(day: DayShape, locale: str) -> list[str]:
    lines = [_profile_line(p, locale) for p in day.profiles]
    lines.append(term("paper.scatter", locale, note=day.scatter.note))
    lines += [account_words(s, locale) for s in (day.sheet, day.sample_sheet) if s is not None]
    lines.append(term("paper.not-official", locale))
    return lines


def day_sheet(
    day: DayShape, *, limits: Sequence[LimitShape] | None = None, locale: str = DEFAULT_LOCALE
) -> str:
    """Set a day on paper.

    Parameters
    ----------
    day : DayShape
        As the use case gives it.
    limits : sequence of LimitShape or None
        Lines in the picture: those of the day when left out; ``()`` for a paper without any buyer on it.
    locale : str
        A language that has a catalogue.

    Returns
    -------
    str
        One HTML page that needs nothing else; "Demonstration, invented data" on each printed page of a
        demonstration.
    """
    drawn = day.limits if limits is None else limits
    marks = strip_marks(day)
    return rendered(
        "day_sheet.html.j2",
        demonstration=day.demonstration,
        running=running_line(day, locale),
        locale=locale,
        day=day,
        said=day_sentence(day.counts, day.findings, locale),
        strip=day_strip(marks, drawn, floor_of(day), locale),
        key=strip_key(day, marks, locale),
        groups=grouped((f for f in day.findings if f.severity is not Severity.NOTE), locale),
        lines=register(day, locale=locale),
        common=_common(day, locale),
        grounds=_grounds(day, locale),
        bin_words=bin_words,
        bin_tonnes=bin_tonnes,
    )
