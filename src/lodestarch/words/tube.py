"""The tube in words: what an output does not know, and what happened in it."""

from __future__ import annotations

from lodestarch.tube.landmarks import Landmarks
from lodestarch.tube.standing import Limit, Standing
from lodestarch.words.catalogues import DEFAULT_LOCALE, term
from lodestarch.words.numbers import DASH, figure, number

__all__ = [
    "landmark_rows",
    "limit_text",
    "origin_text",
    "share_text",
    "signed",
    "spread_text",
    "standing_text",
]


def limit_text(limit: Limit, locale: str = DEFAULT_LOCALE) -> str:
    """What an output does not know, as a sentence."""
    return term(f"limit-of.tube.{limit.value}", locale)


def standing_text(standing: Standing, locale: str = DEFAULT_LOCALE) -> str:
    """Standing of a set of constants."""
    return term(f"standing.{standing.value}", locale)


def origin_text(name: str, locale: str = DEFAULT_LOCALE) -> str:
    """Where the enzyme comes from."""
    return term(f"origin.{name}", locale)


def share_text(share: float, locale: str = DEFAULT_LOCALE) -> str:
    """A share as per cent; what is not quite nothing or all is said as such.

    Examples
    --------
    >>> share_text(0.0002), share_text(0.47), share_text(0.9996)
    ('under 1 %', '47 %', 'over 99 %')
    """
    if 0.0 < share < 0.005:
        return term("tube.share-under", locale)
    if 0.995 < share < 1.0:
        return term("tube.share-over", locale)
    return term("tube.share", locale, share=number(100.0 * share, 0))


def signed(value: float | None, decimals: int = 1) -> str:
    """A change with its sign; none before a zero.

    Examples
    --------
    >>> signed(2.83), signed(-0.04), signed(None)
    ('+2.8', '0.0', '–')
    """
    text = number(value, decimals)
    return f"+{text}" if value is not None and value > 0.0 and text.strip("0.") else text


def spread_text(shape: str, width: float, unit: str, locale: str = DEFAULT_LOCALE) -> str:
    """How far an input strays.

    Examples
    --------
    >>> spread_text("even", 0.05, "g"), spread_text("relative_normal", 0.03, "LN")
    ('± 0.05 g', 'sd 3 %')
    """
    relative = shape.startswith("relative")
    said = f"{figure(100.0 * width)} %" if relative else f"{figure(width)} {unit}"
    return term("tube.spread-even" if shape.endswith("even") else "tube.spread-normal", locale, width=said)


def _at(seconds: float | None, locale: str) -> str:
    return DASH if seconds is None else term("tube.at", locale, seconds=number(seconds, 0))


def landmark_rows(marks: Landmarks, locale: str = DEFAULT_LOCALE) -> list[tuple[str, str]]:
    """Moments of a run, in the order in which they come: what, and when or how much."""
    rows = [
        (term("mark.mean-reaches", locale, level=number(level, 0)), _at(at, locale))
        for level, at in marks.mean_reaches_s
    ]
    swollen = (term("mark.half-swollen", locale), _at(marks.half_swollen_s, locale))
    release = [
        (
            term("mark.at-release-temp", locale),
            term("tube.temp", locale, temp=number(marks.mean_at_release_c, 1)),
        ),
        (term("mark.at-release-swollen", locale), share_text(marks.swollen_at_release, locale)),
        (term("mark.at-release-enzyme", locale), share_text(marks.enzyme_at_release, locale)),
        (term("mark.cuts-before", locale), share_text(marks.cuts_before_release, locale)),
    ]
    later = [
        (term("mark.stiffest", locale), _at(marks.stiffest_s, locale)),
        (term("mark.enzyme-half", locale), _at(marks.enzyme_half_s, locale)),
        (term("mark.enzyme-tenth", locale), _at(marks.enzyme_tenth_s, locale)),
        (term("mark.fall-quarter", locale), _at(marks.quarter_s, locale)),
        (term("mark.fall-half", locale), _at(marks.half_s, locale)),
        (term("mark.fall-three-quarters", locale), _at(marks.three_quarters_s, locale)),
        (
            term("mark.at-end-temp", locale),
            term(
                "tube.core-wall",
                locale,
                core=number(marks.centre_at_end_c, 1),
                wall=number(marks.outer_at_end_c, 1),
            ),
        ),
        (term("mark.at-end-enzyme", locale), share_text(marks.enzyme_at_end, locale)),
        (term("mark.softening", locale), term("tube.times", locale, times=number(marks.softening, 1))),
    ]
    return [*rows, swollen, *release, *later]
