"""One entry of the terms as a form: a field a key, items in rows, findings at their fields."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

from lodestarch.common.findings import Finding
from lodestarch.sheets.terms_cells import terms_value
from lodestarch.sheets.terms_columns import BANDS, FILE, ROWS
from lodestarch.sheets.terms_entry import Key, Kind
from lodestarch.sheets.terms_keys import PARTS
from lodestarch.words.catalogues import term
from lodestarch.words.findings import FindingText, sentence

__all__ = ["KINDS", "EntryForm", "TermsField", "entry_form", "raw_of", "texts_of"]

KINDS: Final = tuple(ROWS)
_POINT: Final = frozenset(".")
_ITEM: Final = re.compile(r"^(part|clause|layer|bands)\[(\d{1,3})\]\.([a-z0-9_]+)$")
_IN_TABLE: Final = re.compile(r"^part\[\d+\]\.(bands\[\d+\]\..*)$")
_LATER: Final = frozenset({"note", "source", "entered_on", "provenance"})
_MOST_ITEMS: Final = 40

Texts = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class TermsField:
    """One field.

    Parameters
    ----------
    name, label, value : str
    choices : tuple of (str, str)
        Value and word; empty where it is typed.
    needed : bool
    faults : tuple of str
    """

    name: str
    label: str
    value: str
    choices: tuple[tuple[str, str], ...]
    needed: bool
    faults: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class EntryForm:
    """An entry to be typed or changed.

    Parameters
    ----------
    fields, later : tuple of TermsField
        Of the entry itself; those that are seldom needed.
    items, bands : tuple of tuple of TermsField
        Parts, clauses or layers; bands of a table.
    faults : tuple of FindingText
        What belongs to no single field.
    """

    fields: tuple[TermsField, ...]
    later: tuple[TermsField, ...]
    items: tuple[tuple[TermsField, ...], ...]
    bands: tuple[tuple[TermsField, ...], ...]
    faults: tuple[FindingText, ...]


def texts_of(kind: str, entry: Mapping[str, object]) -> dict[str, str]:
    """Return the text of every field of an entry that stands."""
    inner = ROWS[kind].inner
    out = {k: _text(v) for k, v in entry.items() if k != inner}
    rows = entry.get(inner or "")
    n = b = 0
    for item in rows if isinstance(rows, list) else []:
        if "bands" in item:
            for band in item["bands"]:
                b += 1
                out |= {f"bands[{b}].{k}": _text(v) for k, v in band.items()}
            continue
        n += 1
        out |= {f"{inner}[{n}].{k}": _text(v) for k, v in item.items()}
    return out


def _text(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() else repr(value)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, list):
        return " ".join(str(v) for v in value)
    return str(value)


def raw_of(kind: str, texts: Texts) -> tuple[dict[str, object], dict[str, str]]:
    """Return an entry as typed, in the keys of a terms file; and its fields, items without a hole between."""
    rows = ROWS[kind]
    raw: dict[str, object] = {}
    kept: dict[str, str] = {}
    for key in rows.head:
        said = texts.get(key.name, "").strip()
        if said:
            raw[key.name], kept[key.name] = _value(key, said), said
    items = _items(texts, rows.inner or "", rows.keys)
    listed: list[dict[str, object]] = []
    for n, item in enumerate(items, 1):
        listed.append({k.name: _value(k, said) for k, said in item})
        kept |= {f"{rows.inner}[{n}].{k.name}": said for k, said in item}
    bands = _items(texts, "bands", BANDS) if kind == "schedule" else []
    if bands:
        listed.append(
            {"shape": "table", "bands": [{k.name: _value(k, said) for k, said in b} for b in bands]}
        )
        for n, band in enumerate(bands, 1):
            kept |= {f"bands[{n}].{k.name}": said for k, said in band}
    if listed and rows.inner:
        raw[rows.inner] = listed
    return raw, kept


def _value(key: Key, said: str) -> object:
    return terms_value(key, said, lambda: _POINT)


def _items(texts: Texts, inner: str, keys: Iterable[Key]) -> list[list[tuple[Key, str]]]:
    """Items of which something is typed, in their order."""
    by_name = {k.name: k for k in keys}
    found: dict[int, list[tuple[Key, str]]] = {}
    for name, text in texts.items():
        match = _ITEM.match(name)
        if match and match[1] == inner and match[3] in by_name and text.strip():
            found.setdefault(int(match[2]), []).append((by_name[match[3]], text.strip()))
    return [found[n] for n in sorted(found)][:_MOST_ITEMS]


def entry_form(
    kind: str,
    texts: Texts,
    findings: Sequence[Finding] = (),
    *,
    refers: Mapping[str, Sequence[tuple[str, str]]] | None = None,
    blank: int = 1,
) -> EntryForm:
    """Make the form of an entry.

    Parameters
    ----------
    kind : str
        One of :data:`KINDS`.
    texts : mapping
        By name of field.
    findings : sequence of Finding
        About it.
    refers : mapping, optional
        For keys that name another entry: ids and names of those that stand.
    blank : int
        Empty items to offer.
    """
    rows = ROWS[kind]
    said, general = _faults(findings)

    def one(key: Key, prefix: str = "") -> TermsField:
        name = prefix + key.name
        word = "layer_t" if prefix.startswith("layer") and key.name == "tonnes" else key.name
        choices = tuple((refers or {}).get(key.name, ())) if not prefix else ()
        if key.name == "shape":
            choices = tuple((shape, shape) for shape in PARTS if shape != "table")
        elif key.kind is Kind.CHOICE:
            choices = tuple((c, c.replace("-", " ")) for c in key.choices)
        elif key.kind is Kind.FLAG:
            choices = (("yes", term("answer.yes")), ("no", term("answer.no")))
        needed = key.required and not prefix
        told = tuple(f"{f.wrong}. {f.do}" for f in said.pop(name, ()))
        return TermsField(name, term(f"terms-key.{word}"), texts.get(name, ""), choices, needed, told)

    def several(inner: str, keys: tuple[Key, ...]) -> tuple[tuple[TermsField, ...], ...]:
        count = len(_items(texts, inner, keys)) + blank
        # A part or band may repeat the schedule's unit in a file; here it has nothing to add.
        shown = [k for k in keys if k.name != "unit"]
        return tuple(tuple(one(k, f"{inner}[{n}].") for k in shown) for n in range(1, count + 1))

    head = [k for k in rows.head if not (kind == FILE and k.name in {"note", "source", "entered_on"})]
    fields = tuple(one(k) for k in head if k.name not in _LATER)
    later = tuple(one(k) for k in head if k.name in _LATER)
    items = several(rows.inner, rows.keys) if rows.inner else ()
    bands = several("bands", BANDS) if kind == "schedule" else ()
    # What no field of the form took is said above it.
    left = [f for texts_left in said.values() for f in texts_left]
    return EntryForm(fields, later, items, bands, (*general, *left))


def _faults(findings: Sequence[Finding]) -> tuple[dict[str, list[FindingText]], list[FindingText]]:
    """Findings by the one field that they are about, and those that are about several."""
    at: dict[str, list[FindingText]] = {}
    several: list[FindingText] = []
    for finding in findings:
        names = _names(str(finding.values.get("key", "") or finding.where.field or ""))
        if len(names) == 1:
            at.setdefault(names[0], []).append(sentence(finding))
        else:
            several.append(sentence(finding))
    return at, several


def _names(key: str) -> list[str]:
    """Names of the fields that a key of a finding stands for: ``part[2].below / above`` are two."""
    match = _IN_TABLE.match(key)
    key = match[1] if match else key
    prefix, _, last = key.rpartition(".")
    prefix = f"{prefix}." if prefix else ""
    return [prefix + part for part in last.split(" / ") if part]
