"""What the trade calls a thing, place by place: one table, for the pages and for whoever translates."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

__all__ = ["TradeWord", "trade_regions", "trade_words"]


@dataclass(frozen=True, slots=True)
class TradeWord:
    """One thing and its names. Provenance of all names: common practice.

    Parameters
    ----------
    here : str
        The word that this program uses.
    means : str
        What it is.
    said : tuple of str
        What it is called, in the order of ``trade_regions``.
    """

    here: str
    means: str
    said: tuple[str, ...]


@cache
def _table() -> dict[str, object]:
    return tomllib.loads(files("lodestarch.words").joinpath("trade_words.toml").read_text("utf-8"))


def trade_regions() -> tuple[str, ...]:
    """Return the places whose words are known.

    Examples
    --------
    >>> trade_regions()[3]
    'Great Britain'
    """
    regions = _table()["regions"]
    assert isinstance(regions, list)  # noqa: S101 - our own file, for the type checker
    return tuple(map(str, regions))


def trade_words() -> tuple[TradeWord, ...]:
    """Return every thing that has names of its own in some place.

    Examples
    --------
    >>> {w.here: w.said[3] for w in trade_words()}["discount"]
    'claim, deduction'
    """
    words = _table()["word"]
    assert isinstance(words, list)  # noqa: S101 - our own file, for the type checker
    return tuple(TradeWord(w["here"], w["means"], tuple(w["said"])) for w in words)
