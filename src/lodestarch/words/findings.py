"""A finding in three short parts: where, what is wrong, what to do.

Rooms give codes and values; the sentences come from the catalogues. No sentence blames, and none proposes
a reading.
"""

from __future__ import annotations

import math
import re
import string
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from typing import Final

from lodestarch.common.errors import NoAnswer
from lodestarch.common.findings import NOWHERE, Finding, Severity, Value, Where
from lodestarch.common.nomenclature import QUANTITIES
from lodestarch.method.profile_fields import FIELDS
from lodestarch.words.catalogues import DEFAULT_LOCALE, placeholders, sentences, term, terms
from lodestarch.words.numbers import DASH, by_suffix, number, tidy

__all__ = [
    "FindingText",
    "QueryGroup",
    "as_json",
    "grouped",
    "lacking",
    "no_answer",
    "sentence",
    "severity_word",
    "where_text",
]

_RANK: Final = {Severity.STOP: 0, Severity.CHECK: 1, Severity.NOTE: 2}
_PLACES: Final = re.compile(r"^\.(\d)f$")
_UNREMARKABLE_RUN: Final = re.compile(r"^(1|\d{4}-\d\d-\d\d)$")
"""Runs that nobody named: the first of the day, or the date that stands in for an empty one."""


@dataclass(frozen=True, slots=True)
class FindingText:
    """One query as it is read.

    Parameters
    ----------
    where : str
        The thing: ticket, sample, tube; or the place in the sheet where nothing else is known.
    place : str
        Row, sheet and column; empty where the finding has no row.
    wrong, do : str
        What is wrong, and what to do.
    severity : Severity
    code : str
    sample : str or None
        Sample that it is about, for a link.
    """

    where: str
    place: str
    wrong: str
    do: str
    severity: Severity
    code: str
    sample: str | None = None

    def __str__(self) -> str:
        told = self.place.casefold() == self.where.casefold()
        tail = f" ({self.place})" if self.place and not told else ""
        return f"{self.where}{tail}: {self.wrong}. {self.do}"


@dataclass(frozen=True, slots=True)
class QueryGroup:
    """Queries that ask for the same thing to be done."""

    do: str
    severity: Severity
    queries: tuple[FindingText, ...]


def _value_text(key: str, value: Value, locale: str, places: int | None = None) -> str:
    if value is None:
        return DASH
    if key == "field":
        return _field_word(str(value), locale)
    if isinstance(value, bool):
        return term("answer.yes" if value else "answer.no", locale)
    if isinstance(value, (int, float)):
        return by_suffix(key, float(value)) if places is None else number(float(value), places)
    return terms(locale).get(f"value.{key}.{value}", value)


def _fill(text: str, values: Mapping[str, Value], locale: str) -> str:
    out = []
    for literal, name, spec, _ in string.Formatter().parse(text):
        out.append(literal)
        if name is None:
            continue
        if name == "name" and values.get(name) is not None:  # a value's own name, said as the field's
            out.append(_field_word(str(values[name]), locale))
        else:
            match = _PLACES.match(spec or "")
            places = int(match[1]) if match else None
            out.append(_value_text(name, values.get(name), locale, places))
    return tidy("".join(out))


def _known(finding: Finding) -> dict[str, Value]:
    place = {f.name: getattr(finding.where, f.name) for f in fields(Where)}
    return {k: v for k, v in place.items() if v is not None} | dict(finding.values)


def _field_word(key: str, locale: str) -> str:
    named = terms(locale).get(f"field.{key}")
    if named is not None:
        return named
    known = FIELDS.get(key) or QUANTITIES.get(key)
    return key if known is None else known.name


def _place_text(where: Where, locale: str) -> str:
    place = where.source or ""
    if where.row is not None:
        name = "where.row" if where.source is None else "where.row-of"
        place = term(name, locale, row=where.row, source=where.source)
    if where.field is not None:
        place = ", ".join(p for p in (place, _field_word(where.field, locale)) if p)
    return place


def where_text(where: Where, locale: str = DEFAULT_LOCALE) -> str:
    """The thing that a finding is about, in words.

    Examples
    --------
    >>> where_text(Where(ticket="8814", sample="8814", position="2", row=31))
    'Ticket 8814, tube 2'
    >>> where_text(Where(source="day.csv", row=31, field="moisture_pct"))
    'Row 31 of day.csv, moisture'
    """
    parts = []
    if where.ticket is not None:
        parts.append(term("where.ticket", locale, ticket=where.ticket))
    if where.sample is not None and where.sample != where.ticket:
        name = "where.sample" if where.ticket is None else "where.and-sample"
        parts.append(term(name, locale, sample=where.sample))
    if where.run is not None and not _UNREMARKABLE_RUN.match(where.run):
        parts.append(term("where.run", locale, run=where.run))
    if where.position is not None:
        parts.append(term("where.tube", locale, position=where.position))
    if parts:
        thing = ", ".join(parts)
        return thing[:1].upper() + thing[1:]
    place = _place_text(where, locale)
    # A sheet's or a profile's own name keeps its letters; a row begins the sentence.
    return place[:1].upper() + place[1:] if where.row is not None else place or term("where.nowhere", locale)


def sentence(finding: Finding, locale: str = DEFAULT_LOCALE) -> FindingText:
    """Put a finding into words.

    Parameters
    ----------
    finding : Finding
    locale : str
        A language that has a catalogue.

    Returns
    -------
    FindingText

    Raises
    ------
    KeyError
        When no sentence exists for the code: a fault of ours, which a test over the whole source finds.

    Notes
    -----
    A value that the sentence names and the finding lacks is written as a dash; :func:`lacking` names it.
    """
    parts = sentences(locale)[finding.code]
    known = _known(finding)
    thing = _fill(parts.where, known, locale)
    return FindingText(
        where=thing[:1].upper() + thing[1:] if thing else where_text(finding.where, locale),
        place=_place_text(finding.where, locale),
        wrong=_fill(parts.wrong, known, locale),
        do=_fill(parts.do, known, locale),
        severity=finding.severity,
        code=finding.code,
        sample=finding.where.sample,
    )


def no_answer(cause: NoAnswer, locale: str = DEFAULT_LOCALE) -> FindingText:
    """Put into words why a question has no answer."""
    return sentence(Finding(cause.code, NOWHERE, Severity.STOP, dict(cause.values)), locale)


def lacking(finding: Finding, locale: str = DEFAULT_LOCALE) -> tuple[str, ...]:
    """Names that the sentence of a finding needs and its values lack; empty where all is well."""
    parts = sentences(locale)[finding.code]
    needed = placeholders(parts.wrong) | placeholders(parts.do) | placeholders(parts.where)
    return tuple(sorted(needed - set(_known(finding))))


def severity_word(severity: Severity, locale: str = DEFAULT_LOCALE) -> str:
    """What a severity asks of the reader, as a short heading."""
    return term(f"severity.{severity.value}", locale)


def grouped(findings: Iterable[Finding], locale: str = DEFAULT_LOCALE) -> tuple[QueryGroup, ...]:
    """Queries by what to do, the gravest first, then in the order met.

    Findings whose advice reads the same stand together: a bench does one kind of thing at a time.
    """
    groups: dict[tuple[Severity, str], list[FindingText]] = {}
    for finding in findings:
        text = sentence(finding, locale)
        groups.setdefault((text.severity, text.do), []).append(text)
    ordered = sorted(groups.items(), key=lambda item: _RANK[item[0][0]])
    return tuple(QueryGroup(do, severity, tuple(texts)) for (severity, do), texts in ordered)


def _json_value(value: Value) -> Value:
    return None if isinstance(value, float) and not math.isfinite(value) else value


def as_json(finding: Finding, locale: str = DEFAULT_LOCALE) -> dict[str, object]:
    """A finding as one JSON object.

    Returns
    -------
    dict
        ``code``, ``severity``, ``where`` (only the parts that are known), ``place`` (the same in words),
        ``wrong``, ``do``, ``values``. Non-finite numbers become null.
    """
    text = sentence(finding, locale)
    place = {f.name: getattr(finding.where, f.name) for f in fields(Where)}
    return {
        "code": finding.code,
        "severity": finding.severity.value,
        "where": {k: v for k, v in place.items() if v is not None},
        "place": text.where,
        "wrong": text.wrong,
        "do": text.do,
        "values": {k: _json_value(v) for k, v in finding.values.items()},
    }
