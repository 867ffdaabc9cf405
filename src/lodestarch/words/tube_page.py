"""The page of the tube in words: its first line, what each tube is, a moment, a run, and the stories."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Final

from lodestarch.tube.history import FALLING, WAITING, TubeHistory
from lodestarch.tube.landmarks import Landmarks
from lodestarch.tube.standing import Standing
from lodestarch.words.catalogues import DEFAULT_LOCALE, term, terms
from lodestarch.words.numbers import number
from lodestarch.words.tube import origin_text, share_text

__all__ = ["moment_text", "pair_sentence", "phase_text", "run_text", "story_text", "trust_text", "tube_text"]

_DECIMALS: Final = {"ln_apart": 1, "ln": 1, "times": 1, "bath": 1, "mass": 2, "stiffness": 0, "fall": 1}
"""Decimals of the figures in a story, by the first part of their names; seconds are whole."""

_UNBROKEN: Final = re.compile(r"(?<=\d) (?=%|(?:s|g|m|ft|hPa|°C)\b)")
"""Between a number and its unit no line ends."""

_PLAIN: Final = re.compile(r"^(?:(ln|a)\s*)?([+-]?\d[\d.,]*)\s*(%|s|ln|a)?$", re.IGNORECASE)
_WAYS: Final = {"%": "share", "s": "reads", "ln": "ln", "a": "activity"}


def pair_sentence(seconds: tuple[float | None, float | None], locale: str = DEFAULT_LOCALE) -> str:
    """The first line of the page: what the two tubes read."""
    a, b = seconds
    if a is None and b is None:
        return term("tube-page.both-missing", locale)
    if a is None or b is None:
        return term("tube-page.one-missing", locale, name="A" if a is None else "B")
    # What is said apart is the difference of what is shown.
    shown_a, shown_b = float(number(a, 0)), float(number(b, 0))
    if shown_a == shown_b:
        return term("tube-page.alike", locale, a=number(a, 0))
    apart = number(abs(shown_a - shown_b), 0)
    return term("tube-page.differ", locale, a=number(a, 0), b=number(b, 0), apart=apart)


def trust_text(standing: Standing | None, locale: str = DEFAULT_LOCALE) -> str:
    """Whose word the seconds are."""
    name = "fitted-model" if standing is Standing.FITTED_HERE else "by-model"
    return term(f"tube-page.{name}", locale)


def _enzyme_text(text: str, locale: str) -> str:
    match = _PLAIN.match(text)
    if match is None:
        return text
    way = _WAYS[(match[1] or match[3] or "%").casefold()]
    if way == "share" and float(match[2].replace(",", ".")) == 0.0:
        return term("tube-what.sound", locale)
    return term(f"tube-what.{way}", locale, value=match[2])


def tube_text(
    fields: Mapping[str, str], standard: Mapping[str, str], locale: str = DEFAULT_LOCALE
) -> list[str]:
    """What is in a tube, and in what it differs from the standard one, in the fields' own figures.

    Examples
    --------
    >>> tube_text({"enzyme": "5 %", "mass_g": "6.60"}, {"enzyme": "0 %", "mass_g": "7.00"})
    ['5 % sprouted grain', '6.60 g']
    """
    said = [_enzyme_text(fields["enzyme"], locale)]
    for key, text in fields.items():
        if key == "enzyme" or text == standard.get(key) or f"tube-what.{key}" not in terms(locale):
            continue
        value = origin_text(text, locale) if f"origin.{text}" in terms(locale) else text
        said.append(term(f"tube-what.{key}", locale, value=value))
    return said


def phase_text(phase: int, share_fallen: float, seconds: float | None, locale: str = DEFAULT_LOCALE) -> str:
    """What the stirrer is doing; ``seconds`` where it is down."""
    if phase < FALLING:
        return term("phase.waiting" if phase == WAITING else "phase.stirring", locale)
    if seconds is not None:
        return term("phase.read", locale, seconds=number(seconds, 0))
    return term("phase.falling", locale, share=number(100.0 * share_fallen, 0))


def moment_text(history: TubeHistory, time_s: float, locale: str = DEFAULT_LOCALE) -> str:
    """One tube at a time: what the stirrer does, core and wall. After its end it stays as at its end."""
    i = max(int((history.time_s <= time_s).sum()) - 1, 0)
    is_down = history.complete and i == len(history.time_s) - 1
    seconds = history.seconds if is_down else None
    phase = phase_text(int(history.phase[i]), float(history.share_fallen[i]), seconds, locale)
    core, wall = number(float(history.temp_c[i, 0]), 0), number(float(history.temp_c[i, -1]), 0)
    return term("tube-page.state", locale, phase=phase, core=core, wall=wall)


def _s(seconds: float | None, locale: str) -> str:
    return (
        term("tube-curve.never", locale)
        if seconds is None
        else term("tube.at", locale, seconds=number(seconds, 0))
    )


def run_text(
    name: str,
    what: str,
    history: TubeHistory,
    marks: Landmarks,
    until_s: float,
    locale: str = DEFAULT_LOCALE,
) -> str:
    """One run from lowering to reading in a few sentences, for who does not see the picture."""
    return term(
        "tube-page.description",
        locale,
        name=name,
        what=what,
        **{"from": number(history.inputs.stir_from_s, 0)},
        until=number(until_s, 0),
        release=number(history.seconds - marks.fall_s, 0),
        warm=number(marks.mean_at_release_c, 0),
        left=share_text(marks.enzyme_at_release, locale),
        stiffest=_s(marks.stiffest_s, locale),
        half=number(marks.half_s, 0),
        seconds=number(history.seconds, 0),
        core=number(marks.centre_at_end_c, 0),
        wall=number(marks.outer_at_end_c, 0),
    )


def story_text(story: str, step: str, values: Mapping[str, float], locale: str = DEFAULT_LOCALE) -> str:
    """What a step of a story says, with the figures of its own runs."""
    said = {}
    for key, value in values.items():
        decimals = _DECIMALS.get(key, _DECIMALS.get(key.partition("_")[0], 0))
        said[key] = number(value, decimals)
    return _UNBROKEN.sub("\N{NO-BREAK SPACE}", term(f"story.{story}.{step}", locale, **said))
