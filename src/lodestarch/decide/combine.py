"""Rules by which retests combine with what is there, as data.

Given the earlier results, every rule makes the number that counts a function of the new result in straight
pieces with jumps. That function is a value, so odds and money under a rule are the closed forms of
``expected_money``.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np

from lodestarch.common.arrays import FloatArray
from lodestarch.common.errors import NoAnswer, OutOfRange
from lodestarch.common.money import MoneyBySeconds
from lodestarch.common.provenance import Provenance

__all__ = ["COMBINE_RULES", "CombineRule", "RuleFact", "combined", "combined_by", "money_under", "passes"]

_SECONDS: Final = "s"


class CombineRule(StrEnum):
    """How results of one load combine."""

    ALL_COUNT = "all-count"
    """The mean of all."""
    OFFICIAL_APPEAL = "official-appeal"
    """7 CFR 800.139(b), material-portion sublots: averaged with the earlier result unless they differ by more
    than two standard deviations; then the appeal alone stands and the earlier certificate is void."""
    TWO_NEAREST = "two-nearest"
    """The mean of the two that lie closest; only as a contract's own rule."""
    MEDIAN = "median"
    """The middle one."""
    THIRD_FINAL = "third-final"
    """The third alone."""


@dataclass(frozen=True, slots=True)
class RuleFact:
    """What is known of a rule.

    Parameters
    ----------
    needs : int
        Earlier results that it needs, at least.
    contracts_only : bool
        Biased, and so never a choice: only where a contract brings it.
    source : str
    provenance : Provenance
    """

    needs: int
    contracts_only: bool
    source: str
    provenance: Provenance


_TRADE: Final = "common practice of laboratories and the trade"
COMBINE_RULES: Final[dict[CombineRule, RuleFact]] = {
    CombineRule.ALL_COUNT: RuleFact(1, False, _TRADE, Provenance.COMMON_PRACTICE),
    CombineRule.OFFICIAL_APPEAL: RuleFact(
        1, False, "7 CFR 800.139(b), material-portion sublots", Provenance.PUBLISHED
    ),
    CombineRule.TWO_NEAREST: RuleFact(2, True, "a contract's own words", Provenance.ENTERED_BY_LAB),
    CombineRule.MEDIAN: RuleFact(1, False, _TRADE, Provenance.COMMON_PRACTICE),
    CombineRule.THIRD_FINAL: RuleFact(
        2, False, "umpire practice: the sealed reserve sample is final", Provenance.COMMON_PRACTICE
    ),
}
"""The rules as data."""

_NEEDS_TWO: Final = tuple(rule for rule, fact in COMBINE_RULES.items() if fact.needs == 2)


def _line(pieces: Sequence[tuple[float, float]], breaks: Sequence[tuple[float, bool]]) -> MoneyBySeconds:
    """Pieces (intercept, slope) with breaks (where, upper side owns it) between them; empty ones left out."""
    kept = [pieces[0]]
    at: list[tuple[float, bool]] = []
    for piece, (where, owns) in zip(pieces[1:], breaks, strict=True):
        if at and where <= at[-1][0]:
            kept[-1], at[-1] = piece, (at[-1][0], owns)
            continue
        kept.append(piece)
        at.append((where, owns))
    return MoneyBySeconds(
        np.array([w for w, _ in at]),
        np.array([c for c, _ in kept]),
        np.array([d for _, d in kept]),
        np.array([o for _, o in at], dtype=np.bool_),
        _SECONDS,
    )


def combined_by(rule: CombineRule, earlier_s: Sequence[float], *, sd_s: float = 0.0) -> MoneyBySeconds:
    """Return the number that counts as a function of the next result. [s by s]

    Parameters
    ----------
    rule : CombineRule
    earlier_s : sequence of float
        Results that are there. [s]  One at least, finite.
    sd_s : float
        Standard deviation in an appeal's test of two standard deviations. [s]

    Returns
    -------
    MoneyBySeconds
        With ``unit`` ``"s"``: seconds that count by seconds of the next result.

    Raises
    ------
    NoAnswer
        ``retest-results-none`` without an earlier result; ``retest-rule-needs-two`` where the rule needs two;
        ``appeal-sd-missing`` for an appeal without its standard deviation; ``appeal-needs-one`` with more
        than one certificate that stands.

    Examples
    --------
    >>> counts = combined_by(CombineRule.OFFICIAL_APPEAL, [294.0], sd_s=4.0)
    >>> counts.at([286.0, 302.0, 302.1]).tolist()
    [290.0, 298.0, 302.1]
    """
    x = sorted(float(v) for v in earlier_s)
    if not x:
        raise NoAnswer("retest-results-none")
    if not all(math.isfinite(v) for v in x):
        raise OutOfRange("earlier_s", next(v for v in x if not math.isfinite(v)), 0.0, math.inf, "s")
    n = len(x)
    if rule in _NEEDS_TWO and n != 2:
        raise NoAnswer("retest-rule-needs-two", rule=rule.value, results=n)
    if rule is CombineRule.ALL_COUNT:
        return _line([(sum(x) / (n + 1), 1.0 / (n + 1))], [])
    if rule is CombineRule.THIRD_FINAL:
        return _line([(0.0, 1.0)], [])
    if rule is CombineRule.OFFICIAL_APPEAL:
        return _appeal(x, sd_s)
    if rule is CombineRule.MEDIAN:
        return _median(x)
    return _two_nearest(x[0], x[1])


def _appeal(x: Sequence[float], sd_s: float) -> MoneyBySeconds:
    if len(x) != 1:
        raise NoAnswer("appeal-needs-one", results=len(x))
    if not sd_s > 0.0:
        raise NoAnswer("appeal-sd-missing")
    alone, averaged = (0.0, 1.0), (0.5 * x[0], 0.5)
    # A difference of exactly two standard deviations is not more than two.
    return _line([alone, averaged, alone], [(x[0] - 2.0 * sd_s, True), (x[0] + 2.0 * sd_s, False)])


def _median(x: Sequence[float]) -> MoneyBySeconds:
    n = len(x)
    if n == 1:
        return _line([(0.5 * x[0], 0.5)], [])
    if n % 2 == 0:
        low, high = x[n // 2 - 1], x[n // 2]
        return _line([(low, 0.0), (0.0, 1.0), (high, 0.0)], [(low, True), (high, True)])
    low, mid, high = x[n // 2 - 1], x[n // 2], x[n // 2 + 1]
    pieces = [(0.5 * (low + mid), 0.0), (0.5 * mid, 0.5), (0.5 * (mid + high), 0.0)]
    return _line(pieces, [(low, True), (high, True)])


def _two_nearest(a: float, b: float) -> MoneyBySeconds:
    gap = b - a
    both, with_a, with_b = (0.5 * (a + b), 0.0), (0.5 * a, 0.5), (0.5 * b, 0.5)
    if gap == 0.0:
        return _line([both], [])
    breaks = [(a - gap, True), (0.5 * (a + b), True), (b + gap, True)]
    return _line([both, with_a, with_b, both], breaks)


def combined(rule: CombineRule, results_s: Sequence[float], *, sd_s: float = 0.0) -> float:
    """Return the number that counts, all results being there, in the order in which they were made. [s]

    Notes
    -----
    Where two pairs are equally near, two nearest gives the mean of the three.

    Examples
    --------
    >>> combined(CombineRule.TWO_NEAREST, [290.0, 302.0, 304.0])
    303.0
    >>> combined(CombineRule.TWO_NEAREST, [290.0, 300.0, 310.0])
    300.0
    """
    if rule is CombineRule.TWO_NEAREST and len(results_s) == 3:
        low, mid, high = sorted(results_s)
        if high - mid == mid - low:
            return (low + mid + high) / 3.0
    if len(results_s) == 1 and rule not in _NEEDS_TWO:
        return float(results_s[0])
    law = combined_by(rule, results_s[:-1], sd_s=sd_s)
    return float(law.at(results_s[-1]))


def money_under(money: MoneyBySeconds, counts: MoneyBySeconds) -> MoneyBySeconds:
    """Return the money as a function of the next result, when ``counts`` says what number it makes.

    Parameters
    ----------
    money : MoneyBySeconds
        By the number that counts.
    counts : MoneyBySeconds
        As :func:`combined_by`; its slopes are not negative.
    """
    edges = np.concatenate([[-np.inf], counts.breaks_s, [np.inf]])
    at: dict[float, bool] = {
        float(b): bool(o) for b, o in zip(counts.breaks_s, counts.upper_owns, strict=True)
    }
    for c, d, low, high in zip(counts.intercept, counts.slope_per_s, edges[:-1], edges[1:], strict=True):
        if d > 0.0:
            for where, owns in zip((money.breaks_s - c) / d, money.upper_owns, strict=True):
                if low < where < high:
                    at.setdefault(float(where), bool(owns))
    breaks = np.array(sorted(at))
    inside = _inside(breaks)
    piece = counts.piece_of(inside)
    c, d = counts.intercept[piece], counts.slope_per_s[piece]
    there = money.piece_of(c + d * inside)
    return MoneyBySeconds(
        breaks,
        np.asarray(money.intercept[there] + money.slope_per_s[there] * c, dtype=np.float64),
        np.asarray(money.slope_per_s[there] * d, dtype=np.float64),
        np.array([at[float(b)] for b in breaks], dtype=np.bool_),
        money.unit,
    )


def _inside(breaks: FloatArray) -> FloatArray:
    if breaks.size == 0:
        return np.zeros(1)
    return np.concatenate([[breaks[0] - 1.0], 0.5 * (breaks[:-1] + breaks[1:]), [breaks[-1] + 1.0]])


def passes(low_s: float, high_s: float) -> MoneyBySeconds:
    """Return the function that is 1 where a number counts as meeting the limits, and 0 elsewhere."""
    if math.isinf(low_s) and math.isinf(high_s):
        return _line([(1.0, 0.0)], [])
    if math.isinf(high_s):
        return _line([(0.0, 0.0), (1.0, 0.0)], [(low_s, True)])
    if math.isinf(low_s):
        return _line([(1.0, 0.0), (0.0, 0.0)], [(high_s, False)])
    return _line([(0.0, 0.0), (1.0, 0.0), (0.0, 0.0)], [(low_s, True), (high_s, False)])
