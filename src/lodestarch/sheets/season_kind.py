"""What a file dropped on the page of the season is, by its columns."""

from __future__ import annotations

from enum import StrEnum

from lodestarch.sheets.season_sheet import VALUE_NAMES, columns_of
from lodestarch.sheets.weather_sheet import MONTHS, NAMES

__all__ = ["SeasonKind", "kind_of"]


class SeasonKind(StrEnum):
    """Kinds of file that tell something of a season."""

    RESULTS = "results"
    BLENDS = "blends"
    OUTCOMES = "outcomes"
    FIELDS = "fields"
    WEATHER = "weather"


def kind_of(data: bytes, name: str) -> SeasonKind:
    r"""Recognise a file; whatever is nothing else is taken for results, whose reader says what is missing.

    Examples
    --------
    >>> kind_of(b"blend,seconds,mass,measured_s\n1,300,5,280\n", "b.csv").value
    'blends'
    """
    met = set(columns_of(data, name))
    if {"blend", "measured_s"} <= met:
        return SeasonKind.BLENDS
    if {"limit_s", "found_s"} <= met:
        return SeasonKind.OUTCOMES
    if {"field", "hours"} <= met:
        return SeasonKind.FIELDS
    if not met & set(VALUE_NAMES):
        dated = bool(met & set(NAMES["date"]))
        if dated and any(met & set(NAMES[k]) for k in ("max", "min", "rain")):
            return SeasonKind.WEATHER
        if "year" in met and set(MONTHS) <= met:
            return SeasonKind.WEATHER
    return SeasonKind.RESULTS
