"""Fields of the page Tube: what each takes, how far its slider goes, what is wrong with what was typed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from lodestarch.common.findings import Finding, Severity
from lodestarch.words.catalogues import term, terms
from lodestarch.words.findings import FindingText, sentence
from lodestarch.work.tube.pair import STANDARD, TUBES, Pair, other_ways

__all__ = ["FieldCell", "FieldRow", "Way", "elsewhere", "field_rows", "hidden_fields"]


@dataclass(frozen=True, slots=True)
class Way:
    """One way to state a field: its slider, and the text that the slider writes (``{v}`` is the number)."""

    name: str
    low: float
    high: float
    step: float
    digits: int
    pattern: str = "{v}"
    key: str = ""
    """Name of the same quantity among ``other_ways``; empty where the field has one way alone."""

    @property
    def label(self) -> str:
        """In words."""
        return term(f"tube-way.{self.name}")


_WAYS: Final[dict[str, tuple[Way, ...]]] = {
    "enzyme": (
        Way("share", 0.0, 50.0, 0.5, 1, "{v} %", "share_pct"),
        Way("ln", 15.0, 120.0, 0.5, 1, "LN {v}", "ln"),
        Way("reads", 64.0, 420.0, 1.0, 0, "{v} s", "reads_s"),
    ),
    "mass_g": (Way("plain", 5.0, 9.0, 0.05, 2),),
    "moisture_pct": (Way("plain", 8.0, 20.0, 0.1, 1),),
    "water_ml": (Way("plain", 20.0, 30.0, 0.1, 1),),
    "start_temp_c": (Way("plain", 10.0, 35.0, 0.5, 1),),
    "place": (
        Way("m", 0.0, 2500.0, 10.0, 0, "{v} m", "m"),
        Way("hpa", 740.0, 1040.0, 1.0, 0, "{v} hPa", "hpa"),
    ),
}
"""Where sliders end: what a bench meets. A field takes more, as far as the model is lawful."""

_OF_FIELD: Final = {
    **dict.fromkeys(("ln", "activity", "share_pct", "reads_s", "sound_s", "enzyme"), "enzyme"),
    **dict.fromkeys(("pressure_hpa", "elevation_m", "pressure", "elevation", "place"), "place"),
}


@dataclass(frozen=True, slots=True)
class FieldCell:
    """One field of one tube."""

    tube: str
    key: str
    text: str
    label: str
    slider_label: str
    wrong: tuple[FindingText, ...]
    same: Mapping[str, str]
    """The same by every other way, as the field would take it."""

    @property
    def name(self) -> str:
        """As the form sends it."""
        return f"{self.tube}_{self.key}"


@dataclass(frozen=True, slots=True)
class FieldRow:
    """One input, for both tubes."""

    key: str
    label: str
    unit: str
    ways: tuple[Way, ...]
    cells: tuple[FieldCell, ...]


def _field_of(finding: Finding) -> str:
    name = finding.where.field or ""
    return _OF_FIELD.get(name, name)


def _same(ways: tuple[Way, ...], known: Mapping[str, float]) -> dict[str, str]:
    return {
        way.name: way.pattern.replace("{v}", f"{known[way.key]:.{way.digits}f}")
        for way in ways
        if way.key in known
    }


def field_rows(pair: Pair) -> tuple[FieldRow, ...]:
    """Fields of both tubes, with what is wrong at each."""
    known = [other_ways(answer) for answer in pair.answers]
    rows = []
    for key, ways in _WAYS.items():
        label = term(f"tube-field.{key}")
        cells = []
        for i, tube in enumerate(TUBES):
            found = [f for f in pair.answers[i].findings if _field_of(f) == key]
            said = {"field": label, "name": tube.upper()}
            cells.append(
                FieldCell(
                    tube,
                    key,
                    pair.fields[i].get(key, ""),
                    term("tube-page.field", **said),
                    term("tube-page.slider", **said),
                    tuple(sentence(f) for f in found),
                    _same(ways, known[i]) if len(ways) > 1 else {},
                )
            )
        rows.append(FieldRow(key, label, terms().get(f"tube-unit.{key}", ""), ways, tuple(cells)))
    return tuple(rows)


def hidden_fields(pair: Pair) -> list[tuple[str, str]]:
    """Fields that are stated and have no place on the page: they travel along."""
    return [
        (f"{tube}_{key}", text)
        for tube, fields in zip(TUBES, pair.fields, strict=True)
        for key, text in fields.items()
        if key not in STANDARD
    ]


def elsewhere(findings: Sequence[Finding]) -> tuple[tuple[FindingText, ...], tuple[FindingText, ...]]:
    """Findings that no field of the page takes: those that stop a run, and the rest."""
    rest = [f for f in findings if _field_of(f) not in _WAYS]
    stops = [sentence(f) for f in rest if f.severity is Severity.STOP]
    return tuple(stops), tuple(sentence(f) for f in rest if f.severity is not Severity.STOP)
