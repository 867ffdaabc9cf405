"""Results, uncertainties and pairs of options as typed on the command line."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.common.nomenclature import legal_range, require_legal
from lodestarch.decide.limits import Limits
from lodestarch.method.reading import Kind, parse_seconds
from lodestarch.method.scatter import DEFAULT_CV, DEFAULT_SCATTER

__all__ = ["Typed", "ULaw", "limits_of", "read_results", "read_u"]

_FORM: Final = re.compile(r"^(?P<fn>[^:]+)(?::(?P<tonnes>.+))?$")
_U: Final = re.compile(r"^\s*(\d+(?:[.,]\d+)?)\s*(%|s)?\s*$")


@dataclass(frozen=True, slots=True)
class Typed:
    """One result as typed; ``tonnes`` where they stand after a colon."""

    text: str
    value_s: float
    kind: Kind
    tonnes: float | None


@dataclass(frozen=True, slots=True)
class ULaw:
    """Standard uncertainty by level: seconds, a share of the level, or, stated neither way, tube scatter."""

    seconds: float | None = None
    share: float | None = None

    @property
    def from_scatter(self) -> bool:
        """Nothing was stated: a pair of tubes by the default law of scatter."""
        return self.seconds is None and self.share is None

    def at(self, fn_s: float) -> float:
        """Standard uncertainty at a level. [s]"""
        if self.from_scatter:
            return DEFAULT_SCATTER.mean_sd_s(fn_s)
        return self.seconds if self.seconds is not None else (self.share or 0.0) * fn_s

    def told(self, fn_s: float) -> tuple[Finding, ...]:
        """Say which uncertainty was taken, where none was stated."""
        if not self.from_scatter:
            return ()
        values: dict[str, Value] = {"u_s": self.at(fn_s), "seconds": fn_s, "cv_pct": 100.0 * DEFAULT_CV}
        return (Finding("odds-u-from-scatter", Where(field="u_s"), Severity.CHECK, values),)

    @property
    def by_level(self) -> float | Callable[[float], float]:
        """A constant, or the function of the level."""
        return self.seconds if self.seconds is not None else self.at


def _number(text: str) -> float | None:
    try:
        return float(text.strip().replace(",", "."))
    except ValueError:
        return None


def read_results(texts: Sequence[str]) -> tuple[tuple[Typed, ...], tuple[Finding, ...]]:
    """Read ``310``, ``<=62``, ``>400`` or ``310:500``, seconds with tonnes."""
    good: list[Typed] = []
    found: list[Finding] = []
    low, high = legal_range("seconds")
    for text in texts:
        where = Where(field="result")
        match = _FORM.match(text.strip())
        seconds = parse_seconds(match["fn"]) if match else None
        typed_tonnes = match["tonnes"] if match else None
        tonnes = _number(typed_tonnes) if typed_tonnes is not None else None
        if seconds is None or (typed_tonnes is not None and tonnes is None):
            found.append(Finding("result-unreadable", where, Severity.STOP, {"value": text}))
        elif tonnes is not None and not tonnes > 0.0:
            found.append(Finding("result-mass", where, Severity.STOP, {"value": text}))
        elif not low <= seconds.value_s <= high:
            values: dict[str, Value] = {
                "name": "seconds", "value": seconds.value_s, "low": low, "high": high, "unit": "s",
            }  # fmt: skip
            found.append(Finding("value-illegal", where, Severity.STOP, values))
        else:
            good.append(Typed(text, seconds.value_s, seconds.kind, tonnes))
    return tuple(good), tuple(found)


def read_u(text: str | None) -> ULaw | Finding:
    """Read ``9``, ``9 s`` or ``3%`` of the level; ``None`` is the default law of scatter."""
    where = Where(field="u_s")
    if text is None:
        return ULaw()
    match = _U.match(text)
    value = float(match[1].replace(",", ".")) if match else 0.0
    share = bool(match and match[2] == "%")
    if not value > 0.0 or value > (50.0 if share else 200.0):
        return Finding("odds-u-unreadable", where, Severity.STOP, {"value": text})
    return ULaw(share=value / 100.0) if share else ULaw(seconds=value)


def limits_of(
    limit_s: float | None, at_most_s: float | None, counts_from_s: float | None, counts_to_s: float | None
) -> Limits:
    """Take limits as typed.

    Raises
    ------
    OutOfRange
        A limit that cannot be a falling number: a slip of the keyboard.
    NoAnswer
        As :class:`~lodestarch.decide.limits.Limits`.
    """
    for value in (limit_s, at_most_s, counts_from_s, counts_to_s):
        if value is not None:
            require_legal("seconds", value)
    return Limits(limit_s, at_most_s, counts_from_s, counts_to_s)
