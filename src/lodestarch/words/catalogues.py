"""The texts of one language: TOML files under ``catalogue/<locale>/``, one a room.

``terms*.toml`` hold words and short phrases; every other file holds sentences for findings, a table a
code with ``wrong`` and ``do``, and ``where`` for findings whose thing is not one of those that a place
knows (a stirrer, a mill).
"""

from __future__ import annotations

import string
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any, Final

from lodestarch.common.errors import LodestarchError, UnknownName

__all__ = ["DEFAULT_LOCALE", "Sentence", "locales", "placeholders", "sentences", "term", "terms"]

DEFAULT_LOCALE: Final = "en"
_TERMS: Final = "terms"


@dataclass(frozen=True, slots=True)
class Sentence:
    """What is wrong and what to do, with ``{name}`` where a value goes."""

    wrong: str
    do: str
    where: str
    """Empty: the finding's own place says it."""
    room: str
    """Catalogue that holds it."""


def _root() -> Any:
    return files("lodestarch.words").joinpath("catalogue")


@lru_cache(maxsize=1)
def locales() -> tuple[str, ...]:
    """Languages that have a catalogue, in alphabetical order."""
    return tuple(sorted(entry.name for entry in _root().iterdir() if entry.is_dir()))


def _require(locale: str) -> Any:
    if locale not in locales():
        raise UnknownName("language", locale, locales())
    return _root().joinpath(locale)


@lru_cache
def sentences(locale: str = DEFAULT_LOCALE) -> Mapping[str, Sentence]:
    """Every sentence for findings of one language, by code.

    Raises
    ------
    UnknownName
        When the language has no catalogue.
    LodestarchError
        When a code stands in two files, or lacks one of its two parts.
    """
    found: dict[str, Sentence] = {}
    for entry in sorted(_require(locale).iterdir(), key=lambda e: str(e.name)):
        if not entry.name.endswith(".toml") or entry.name.startswith(_TERMS):
            continue
        for code, parts in tomllib.loads(entry.read_text("utf-8")).items():
            if code in found:
                raise LodestarchError(f"{code} stands in {found[code].room}.toml and in {entry.name}")
            if not isinstance(parts, dict) or set(parts) - {"where"} != {"wrong", "do"}:
                raise LodestarchError(f"{entry.name}: {code} needs 'wrong' and 'do', and may have 'where'")
            room = entry.name.removesuffix(".toml")
            found[code] = Sentence(parts["wrong"], parts["do"], parts.get("where", ""), room)
    return MappingProxyType(found)


def _flatten(table: Mapping[str, Any], prefix: str = "") -> dict[str, str]:
    flat: dict[str, str] = {}
    for key, value in table.items():
        name = f"{prefix}{key}"
        flat |= _flatten(value, f"{name}.") if isinstance(value, dict) else {name: str(value)}
    return flat


@lru_cache
def terms(locale: str = DEFAULT_LOCALE) -> Mapping[str, str]:
    """Every word and phrase of one language, by dotted name."""
    found: dict[str, str] = {}
    for entry in _require(locale).iterdir():
        if entry.name.startswith(_TERMS) and entry.name.endswith(".toml"):
            flat = _flatten(tomllib.loads(entry.read_text("utf-8")))
            twice = sorted(set(flat) & set(found))
            if twice:
                raise LodestarchError(f"{entry.name}: {twice[0]} stands in another file as well")
            found |= flat
    return MappingProxyType(found)


def term(name: str, locale: str = DEFAULT_LOCALE, /, **values: object) -> str:
    """Return one word or phrase with its values filled in.

    Raises
    ------
    UnknownName
        When the catalogue has no such name: a fault of ours, never of the data.

    Examples
    --------
    >>> term("tubes.two")
    'two tubes'
    """
    table = terms(locale)
    if name not in table:
        raise UnknownName("word", name, tuple(table))
    return table[name].format(**values) if values else table[name]


def placeholders(text: str) -> frozenset[str]:
    """Names that stand in braces in a text.

    Examples
    --------
    >>> sorted(placeholders("{mass_g} g at {moisture_pct} %"))
    ['mass_g', 'moisture_pct']
    """
    return frozenset(name for _, name, _, _ in string.Formatter().parse(text) if name is not None)
