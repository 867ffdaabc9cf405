"""Blending by mass: what a mix of lots is computed to read, and the share that reaches a target.

Two things are kept apart. The arithmetic of a mix is exact. A *lot as an ingredient* is not: a lot at
the floor only says that its liquefaction number is at least that of the floor, a lot stopped at t only
that it is at most LN(t), and from about 400 s up the number says little about amylase, so its
liquefaction number is not let fall below that of the cap. Cap and floor can be switched off.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from lodestarch.common.errors import NoAnswer, NotComparable, OutOfRange
from lodestarch.common.nomenclature import require_legal
from lodestarch.method.liquefaction import LN_OFFSET_S, fn_from_ln, ln_from_fn
from lodestarch.method.reading import Kind

__all__ = ["CAP_S", "Lot", "Mix", "Reach", "blend", "dry_matter_shares", "share_to_reach"]

CAP_S: Final = 400.0
"""From here up FN no longer tracks amylase [s]. Published: a flour-test note of a federal soft wheat
laboratory; a setting here."""


@dataclass(frozen=True, slots=True)
class Lot:
    """One lot as an ingredient.

    Parameters
    ----------
    seconds_s : float
        Its result: the falling number, the floor, or the time at which it was stopped. [s]  Above 50.
    mass : float
        Mass or share in any one unit, the same for all lots of a mix, at ``moisture_pct``.
    kind : Kind
        Exact, at or below, or above.
    moisture_pct : float or None
        Moisture of the lot; where all lots state one, they are mixed by dry matter, the same as by mass
        at a common moisture. Where none does, masses count as they are.
    comparable_key : str
        Portion mass, moisture basis and portion rule of the result; lots with different keys never mix.
    """

    seconds_s: float
    mass: float
    kind: Kind = Kind.EXACT
    moisture_pct: float | None = None
    comparable_key: str = ""


@dataclass(frozen=True, slots=True)
class Mix:
    """What a mix is computed to read.

    ``ln_low`` and ``ln_high`` bound the liquefaction number; they are equal, and ``kind`` is exact, where
    no lot is censored. ``seconds_s`` is the one number to show: the value, or the bound for ``kind``.
    ``capped`` and ``censored`` tell which lots the cap and the censoring touched (indices).
    """

    seconds_s: float
    kind: Kind
    ln_low: float
    ln_high: float
    fn_low_s: float
    fn_high_s: float
    plain_seconds_s: float
    shares: tuple[float, ...]
    capped: tuple[int, ...]
    censored: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Reach:
    """The largest share of the low lot with which the mix still reads the target."""

    share_low: float
    seconds_s: float
    target_s: float
    capped: bool


def dry_matter_shares(lots: Sequence[Lot]) -> np.ndarray:
    """Shares by mass at a common moisture, summing to 1.

    Raises
    ------
    NoAnswer
        ``blend-empty`` without lots, ``blend-mass`` when a mass is negative or all are zero,
        ``blend-moisture-partly`` when some lots state a moisture and some do not.
    """
    if not lots:
        raise NoAnswer("blend-empty")
    mass = np.array([lot.mass for lot in lots], dtype=np.float64)
    if not np.all(np.isfinite(mass)) or np.any(mass < 0.0) or mass.sum() <= 0.0:
        raise NoAnswer("blend-mass")
    stated = [lot.moisture_pct for lot in lots if lot.moisture_pct is not None]
    if stated and len(stated) != len(lots):
        raise NoAnswer("blend-moisture-partly", stated=len(stated), lots=len(lots))
    if stated:
        for value in stated:
            require_legal("moisture_pct", value)
        mass = mass * (1.0 - np.array(stated) / 100.0)
    return np.asarray(mass / mass.sum())


def _interval(lot: Lot, cap_s: float | None, *, censoring: bool) -> tuple[float, float, bool, bool]:
    """LN interval of one ingredient: (low, high, capped, censored)."""
    if not lot.seconds_s > LN_OFFSET_S:
        raise OutOfRange("seconds_s", lot.seconds_s, LN_OFFSET_S, float("inf"), "s")
    ln = ln_from_fn(lot.seconds_s)
    low = high = ln
    censored = censoring and lot.kind is not Kind.EXACT
    if censored and lot.kind is Kind.AT_OR_BELOW:
        high = float("inf")
    if censored and lot.kind is Kind.ABOVE:
        low = 0.0
    capped = False
    if cap_s is not None:
        ln_cap = ln_from_fn(cap_s)
        capped = low < ln_cap and lot.mass > 0.0
        low, high = max(low, ln_cap), max(high, ln_cap)
        censored = censored and low != high
    return low, high, capped, censored and lot.mass > 0.0


def blend(lots: Sequence[Lot], *, cap_s: float | None = CAP_S, censoring: bool = True) -> Mix:
    """Compute what a mix of lots is expected to read.

    Parameters
    ----------
    lots : sequence of Lot
        At least one.
    cap_s : float or None
        Seconds from which LN is held constant; ``None`` for the plain law.
    censoring : bool
        Whether a lot at the floor or stopped early enters as an interval; ``False`` takes its seconds as
        if measured.

    Returns
    -------
    Mix

    Raises
    ------
    NoAnswer
        Empty, or masses that cannot be shares.
    NotComparable
        When results were made under different bases or masses.
    OutOfRange
        When a lot reads 50 s or less.

    Notes
    -----
    LN of the mix is the mean of the lots' LN weighted by mass at a common moisture [1]_; a lot at the floor
    has LN in [LN(floor), inf), a lot stopped at t has LN in (0, LN(t)].

    References
    ----------
    .. [1] Agronomy article of 2020, attributing the rule to the US federal inspection service; published
       example 400 and 220 in equal parts: 279. The scopes of ISO 3093 and ICC 107/1 allow LN for planning
       mixtures.

    Examples
    --------
    >>> mix = blend([Lot(400.0, 50.0), Lot(220.0, 50.0)])
    >>> round(mix.seconds_s, 3), round(mix.ln_low, 4)
    (278.846, 26.2185)
    """
    keys = {lot.comparable_key for lot in lots}
    if len(keys) > 1:
        first, second, *_ = sorted(keys)
        raise NotComparable(first or "not stated", second or "not stated")
    shares = dry_matter_shares(lots)
    parts = [_interval(lot, cap_s, censoring=censoring) for lot in lots]
    used = shares > 0.0  # infinity times a share of nothing is no number
    lows, highs = (np.array([p[end] for p in parts])[used] for end in (0, 1))
    low, high = float(np.sum(shares[used] * lows)), float(np.sum(shares[used] * highs))
    plain = fn_from_ln(float(np.sum(shares * [ln_from_fn(lot.seconds_s) for lot in lots])))
    fn_low, fn_high = fn_from_ln(high), fn_from_ln(low)
    if np.array_equal(lows, highs):
        kind, seconds = Kind.EXACT, fn_high
    elif np.isinf(high):
        kind, seconds = Kind.AT_OR_BELOW, fn_high
    else:
        kind, seconds = Kind.ABOVE, fn_low
    return Mix(
        seconds_s=seconds,
        kind=kind,
        ln_low=low,
        ln_high=high,
        fn_low_s=fn_low,
        fn_high_s=fn_high,
        plain_seconds_s=plain,
        shares=tuple(float(s) for s in shares),
        capped=tuple(i for i, p in enumerate(parts) if p[2]),
        censored=tuple(i for i, p in enumerate(parts) if p[3]),
    )


def share_to_reach(target_s: float, high_s: float, low_s: float, *, cap_s: float | None = CAP_S) -> Reach:
    """Find the largest share of a low lot that a mix can carry and still read the target.

    Parameters
    ----------
    target_s, high_s, low_s : float
        Target and the two lots' falling numbers. [s]  Each above 50, ``low_s`` below ``high_s``.
    cap_s : float or None
        As in :func:`blend`.

    Returns
    -------
    Reach
        Share by mass at a common moisture, 0 to 1.

    Raises
    ------
    NoAnswer
        ``reach-above-both`` when the target lies above both lots (no share reaches it),
        ``reach-order`` when the low lot is not the lower one.
    OutOfRange
        When a value is 50 s or less, or is no number.

    Notes
    -----
    The low lot is taken as measured: where it is known only as "at or below", the share is an upper bound.

    w = (LN_target - LN_high)/(LN_low - LN_high); 1 where the low lot makes the target alone.

    Examples
    --------
    >>> round(share_to_reach(300.0, 400.0, 220.0).share_low, 6)
    0.377778
    """
    for name, value in (("target_s", target_s), ("high_s", high_s), ("low_s", low_s)):
        if not value > LN_OFFSET_S:
            raise OutOfRange(name, value, LN_OFFSET_S, float("inf"), "s")
    if not low_s < high_s:
        raise NoAnswer("reach-order", high_s=high_s, low_s=low_s)
    floor = 0.0 if cap_s is None else ln_from_fn(cap_s)
    ln_target, ln_high, ln_low = (ln_from_fn(x) for x in (target_s, high_s, low_s))
    capped = ln_high < floor
    ln_high, ln_low = max(ln_high, floor), max(ln_low, floor)
    if ln_target < ln_high:
        raise NoAnswer("reach-above-both", target_s=target_s, best_s=fn_from_ln(ln_high))
    if ln_low <= ln_target:
        return Reach(1.0, fn_from_ln(ln_low), target_s, capped)
    share = (ln_target - ln_high) / (ln_low - ln_high)
    return Reach(share, fn_from_ln((1.0 - share) * ln_high + share * ln_low), target_s, capped)
