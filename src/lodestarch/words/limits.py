"""A buyer's floor or window in words."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, Protocol

from lodestarch.words.catalogues import DEFAULT_LOCALE, term
from lodestarch.words.numbers import figure, tidy

__all__ = ["LimitShape", "NamedLimit", "limit_words", "short_limits", "short_name"]

_REMARK: Final = re.compile(r"\s*\([^()]*\)\s*$")


class LimitShape(Protocol):
    """What words and pictures need of a limit; whatever has these three attributes fits."""

    @property
    def buyer(self) -> str:
        """Who states it."""
        ...

    @property
    def at_least_s(self) -> float | None:
        """Lower end [s], or ``None``."""
        ...

    @property
    def at_most_s(self) -> float | None:
        """Upper end [s], or ``None``."""
        ...


@dataclass(frozen=True, slots=True)
class NamedLimit:
    """A limit by itself."""

    buyer: str
    at_least_s: float | None
    at_most_s: float | None


def short_name(name: str) -> str:
    """A name without a remark in brackets at its end, for labels where room is short.

    Examples
    --------
    >>> short_name("Quillmere Milling (invented)")
    'Quillmere Milling'
    """
    return _REMARK.sub("", name) or name


def limit_words(limit: LimitShape, locale: str = DEFAULT_LOCALE) -> str:
    r"""A floor or a window with its unit.

    Examples
    --------
    >>> limit_words(NamedLimit("Quillmere", 300.0, None)).replace("\u00a0", " ")
    'at least 300 s'
    """
    low, high = limit.at_least_s, limit.at_most_s
    if low is not None and high is not None:
        text = term("limit.window", locale, low=figure(low), high=figure(high))
    elif low is not None:
        text = term("limit.at-least", locale, low=figure(low))
    elif high is not None:
        text = term("limit.at-most", locale, high=figure(high))
    else:
        text = term("limit.none", locale)
    return tidy(text)


def short_limits(limits: Iterable[LimitShape], locale: str = DEFAULT_LOCALE) -> tuple[str, ...]:
    """The limits as they are said on the phone, each once, ascending: ``300``, ``220 to 280``."""
    spans = {(m.at_least_s, m.at_most_s) for m in limits} - {(None, None)}
    said = []
    for low, high in sorted(spans, key=lambda s: (s[0] or 0.0, s[1] or float("inf"))):
        if high is None:
            said.append(figure(low))
        elif low is None:
            said.append(term("limit.short-most", locale, high=figure(high)))
        else:
            said.append(term("limit.short-window", locale, low=figure(low), high=figure(high)))
    return tuple(said)
