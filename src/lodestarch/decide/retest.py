"""A retest under the rule that settles: where the number goes, and what that is worth to either side.

Here the retest enters the number that is paid on. What one side gains the other loses, the fee apart; that is
a transfer, shown to both. What knowing more is worth before choosing an outlet stands in ``another_test``.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from lodestarch.common.errors import NoAnswer
from lodestarch.common.money import MoneyBySeconds
from lodestarch.decide.combine import CombineRule, combined_by, money_under, passes
from lodestarch.decide.expected_money import expected_money
from lodestarch.decide.limits import Limits, chance_between

__all__ = ["RetestOutcome", "rise_needed", "settle"]


@dataclass(frozen=True, slots=True)
class RetestOutcome:
    """What a retest is expected to do under a rule.

    Parameters
    ----------
    rule : CombineRule
    now_s : float
        Number that counts today. [s]
    passes_now : bool
    p_after : float
        Chance that the number that counts meets the limits after the retest. [1]
    p_changes : float
        Chance that the verdict changes. [1]
    expected_s : float
        Expected number that counts. [s]
    shown_mean_s, shown_sd_s : float
        Predicted result of the retest alone. [s]
    needed_s : float or None
        Smallest next result with which a failing number passes; ``None`` where it passes now, or where no
        next result makes it pass. [s]
    seller, buyer : float or None
        Expected change of the money on the load for either side, fee taken off where a side pays it; ``None``
        without a schedule. [money]
    """

    rule: CombineRule
    now_s: float
    passes_now: bool
    p_after: float
    p_changes: float
    expected_s: float
    shown_mean_s: float
    shown_sd_s: float
    needed_s: float | None
    seller: float | None
    buyer: float | None


def settle(
    rule: CombineRule, earlier_s: Sequence[float], shown_mean_s: float, shown_sd_s: float, limits: Limits, *,
    money: MoneyBySeconds | None = None, fee: float = 0.0, seller_share: float | None = 1.0,
    appeal_sd_s: float = 0.0,
) -> RetestOutcome:  # fmt: skip
    """Predict the number that counts, the verdict and the money after one more result.

    Parameters
    ----------
    rule : CombineRule
    earlier_s : sequence of float
        Results that stand. [s]  Their mean counts today.
    shown_mean_s, shown_sd_s : float
        Predicted next result (``gain.gain_of``). [s]
    limits : Limits
    money : MoneyBySeconds, optional
        What the load brings the seller, by the number that counts.
    fee : float
        Of the retest. [money]
    seller_share : float or None
        Part of the fee that the seller pays; ``None``: whoever loses, that is the seller where the number
        that counts misses. [1]
    appeal_sd_s : float
        Standard deviation in an appeal's test. [s]

    Notes
    -----
    The number that counts is a function C(y) of the next result y in straight pieces (``combine``); then
    P(pass) = E[1{low <= C(y) <= high}] and the money E[money(C(y))] are closed forms under normal y.

    Examples
    --------
    Two results averaging 296 s, u 9 s each: a third makes the mean pass about once in seven.

    >>> got = settle(CombineRule.ALL_COUNT, [294.0, 298.0], 296.0, 9.0 * 1.5**0.5, Limits(300.0))
    >>> print(f"{got.p_after:.4f} {got.needed_s:.0f}")
    0.1382 308
    """
    counts = combined_by(rule, earlier_s, sd_s=appeal_sd_s)
    now = sum(earlier_s) / len(earlier_s)
    low, high = limits.low_report_s, limits.high_report_s
    ok = low <= now <= high
    met = money_under(passes(low, high), counts)
    p = min(max(float(expected_money(met, shown_mean_s, shown_sd_s)), 0.0), 1.0)
    seller = buyer = None
    if money is not None:
        change = float(expected_money(money_under(money, counts), shown_mean_s, shown_sd_s)) - float(
            money.at(now)
        )
        share = 1.0 - p if seller_share is None else seller_share
        seller, buyer = change - share * fee, -change - (1.0 - share) * fee
    return RetestOutcome(
        rule=rule, now_s=now, passes_now=ok, p_after=p, p_changes=1.0 - p if ok else p,
        expected_s=float(expected_money(counts, shown_mean_s, shown_sd_s)),
        shown_mean_s=shown_mean_s, shown_sd_s=shown_sd_s,
        needed_s=None if ok else _needed(met), seller=seller, buyer=buyer,
    )  # fmt: skip


def _needed(met: MoneyBySeconds) -> float | None:
    """Where the chance of passing first becomes one, going up."""
    for where, above, below in zip(met.breaks_s, met.intercept[1:], met.intercept[:-1], strict=True):
        if above == 1.0 and below == 0.0:
            return float(where)
    return None


def rise_needed(result_s: float, limit_s: float, sd_difference_s: float) -> tuple[float, float]:
    """Seconds that a retest alone would have to rise, and how often it does.

    Parameters
    ----------
    result_s, limit_s : float
        Result, and the smallest report that counts. [s]
    sd_difference_s : float
        Standard deviation of retest minus result. [s]  Above 0.

    Examples
    --------
    >>> rise, p = rise_needed(278.0, 300.0, 8.5)
    >>> f"{rise:.0f} s, once in {1 / p:.0f}"
    '22 s, once in 207'
    """
    if not (sd_difference_s > 0.0 and math.isfinite(sd_difference_s)):
        raise NoAnswer("retest-spread-missing")
    p = chance_between(result_s, sd_difference_s, limit_s, math.inf)[0]
    return limit_s - result_s, float(p)
