"""Fields of the page Season as typed: what each takes, and what is wrong with it, said at the field."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.season.open_rows import LEAST_GROWERS, SMALLEST_CELL
from lodestarch.sheets.typed import typed_number
from lodestarch.words.catalogues import term
from lodestarch.words.findings import FindingText, sentence
from lodestarch.work.season.asked import SeasonAsked
from lodestarch.work.season.open_data import OpenTerms
from lodestarch.work.season.overview import OverviewAsked

__all__ = ["FIELD_OF", "SeasonFields", "read_fields"]

_LONGEST: Final = 200

_NUMBERS: Final[dict[str, tuple[str, float, float, bool]]] = {
    "limit": ("season-page.limit-name", 51.0, 1200.0, False),
    "season": ("season-page.season-name", 1900.0, 2199.0, True),
    "probability": ("season-page.probability-name", 50.0, 99.9, False),
    "smallest": ("season-page.smallest-name", 1.0, 1000.0, True),
    "growers": ("season-page.smallest-name", 1.0, 1000.0, True),
}
"""Name, least, most, and whether only whole numbers can be."""

FIELD_OF: Final = {
    "season-no-value-column": "value",
    "season-column-unknown": "value",
    "season-board-season": "season",
    "season-page-file": "file",
    "season-page-twice": "file",
    "season-open-none": "smallest",
    "season-open-licence": "licence",
}
"""Findings of the answer that belong to a field."""


@dataclass(frozen=True, slots=True)
class SeasonFields:
    """What was typed, what it asks for, and what is wrong, by field."""

    texts: Mapping[str, str]
    asked: OverviewAsked
    terms: OpenTerms
    wrong: Mapping[str, tuple[FindingText, ...]]


def read_fields(typed: Mapping[str, str]) -> SeasonFields:
    """Read the fields; one that cannot be read keeps its text, and its usual value is used meanwhile."""
    keys = (*_NUMBERS, "value", "factors", "licence", "publisher")
    texts = {k: typed.get(k, "").replace("\0", "").strip()[:_LONGEST] for k in keys}
    wrong: dict[str, tuple[FindingText, ...]] = {}
    numbers: dict[str, float] = {}
    for key, (name, low, high, whole) in _NUMBERS.items():
        if not texts[key]:
            continue
        value = typed_number(texts[key].removesuffix("s").strip())
        if value is None or not low <= value <= high or (whole and value != int(value)):
            said: dict[str, Value] = {"text": texts[key][:40], "name": term(name), "low": low, "high": high}
            found = Finding("season-page-number", Where(field=key), Severity.STOP, said)
            wrong[key] = (sentence(found),)
        else:
            numbers[key] = value
    factors = tuple(f.strip() for f in texts["factors"].split(",") if f.strip())
    season = numbers.get("season")
    asked = OverviewAsked(
        numbers.get("limit", 250.0), numbers.get("probability", 95.0) / 100.0,
        None if season is None else int(season), SeasonAsked(texts["value"] or None, factors),
    )  # fmt: skip
    terms = OpenTerms(
        texts["licence"], texts["publisher"], int(numbers.get("smallest", SMALLEST_CELL)),
        int(numbers.get("growers", LEAST_GROWERS)),
    )  # fmt: skip
    return SeasonFields(texts, asked, terms, wrong)
