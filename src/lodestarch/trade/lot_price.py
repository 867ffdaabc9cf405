"""A lot priced: every outlet with net, chances and reasons, the best of them, and what is at stake."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Final

import numpy as np

from lodestarch.common.money import MoneyBySeconds
from lodestarch.method.reading import Kind
from lodestarch.trade.law import LawEffect, LawLot, Verdict, law_on_lot
from lodestarch.trade.net_price import NetPrices, net_curve, net_prices, reports_at, worth_turned_away
from lodestarch.trade.outlets import Outlet, Stands
from lodestarch.trade.what_if import BreakEven, break_even_haul

__all__ = ["Lot", "LotPrice", "Row", "price_lot"]

_TAIL_Z: Final = 1.6448536269514722
"""Standard normal value that 5 in 100 exceed. [1]"""


@dataclass(frozen=True, slots=True)
class Lot:
    """One lot with its result.

    Parameters
    ----------
    name : str
    seconds : float
        Reported, or the bound where ``kind`` is not exact. [s]
    kind : Kind
    u_s : float or None
        Standard uncertainty; ``None``: not evaluated. [s]
    tonnes : float
    profile : str
        ``id`` or ``id@version``; empty: not stated, taken as accepted.
    as_is : bool
        Portions were weighed as is.
    law : LawLot or None
        For the law; ``None``: not looked at.
    """

    name: str
    seconds: float
    kind: Kind
    u_s: float | None
    tonnes: float
    profile: str = ""
    as_is: bool = False
    law: LawLot | None = None


@dataclass(frozen=True, slots=True)
class Row:
    """One lot at one outlet; ``None``: not evaluated.

    Parameters
    ----------
    outlet : Outlet
    comparable : bool
        The result is made under a profile that the buyer compares.
    barred_by : tuple of Verdict
        Laws for which the lot may not be sold there.
    warned_by : tuple of Verdict
        Laws for which a person has to look first.
    net_per_t : float or None
        Expected price less haul and fee. [money/t]
    at_mean_per_t : float or None
        The same taken at the number itself, which is not what is to be expected. [money/t]
    spread_per_t : float or None
        Standard deviation over the odds. [money/t]
    p_turned_away, p_not_stated, p_makes_it : float or None
        [1]
    low_per_t, high_per_t : float or None
        Least and most that it brings over reports between the 5th and the 95th in a hundred. [money/t]
    break_even : BreakEven or None
    side : str
        ``under``, ``within`` or ``over``: where the number lies against the limit; empty without one.
    """

    outlet: Outlet
    comparable: bool
    barred_by: tuple[Verdict, ...]
    warned_by: tuple[Verdict, ...]
    net_per_t: float | None
    at_mean_per_t: float | None
    spread_per_t: float | None
    p_turned_away: float | None
    p_not_stated: float | None
    p_makes_it: float | None
    low_per_t: float | None
    high_per_t: float | None
    break_even: BreakEven | None
    side: str

    @property
    def usable(self) -> bool:
        """Return whether the lot could go there: lawful, comparable, and with a price."""
        return self.comparable and not self.barred_by and self.net_per_t is not None


@dataclass(frozen=True, slots=True)
class LotPrice:
    """A lot at every outlet.

    Parameters
    ----------
    lot : Lot
    rows : tuple of Row
        The best net first; what cannot be used last.
    turned_away_per_t : float or None
        What a tonne was taken to be worth that comes back. [money/t]
    bound_only : bool
        The result is censored and a price beyond its bound differs: the nets hold at the bound alone.
    """

    lot: Lot
    rows: tuple[Row, ...]
    turned_away_per_t: float | None
    bound_only: bool

    @property
    def best(self) -> Row | None:
        """Where the lot goes: ``None`` where no outlet can be used now.

        Contracts come first: the one that brings most, where it is likelier met than not or brings more than
        every bid.
        """
        able = [r for r in self.rows if r.usable and r.outlet.stands is Stands.NOW]
        contract = next((r for r in able if r.outlet.is_contract), None)
        if contract is not None and (contract.p_makes_it is None or contract.p_makes_it >= 0.5):
            return contract
        return next(iter(able), None)

    @property
    def best_later(self) -> Row | None:
        """First row where its window opens later: it brings more than all that stand now."""
        first = next((r for r in self.rows if r.usable), None)
        return first if first is not None and first.outlet.stands is Stands.LATER else None

    @property
    def at_stake(self) -> float | None:
        """What the odds at the best outlet move: most less least of ninety in a hundred. [money]"""
        b = self.best
        if b is None or b.low_per_t is None or b.high_per_t is None:
            return None
        return (b.high_per_t - b.low_per_t) * self.lot.tonnes


def price_lot(
    outlets: Sequence[Outlet],
    lot: Lot,
    *,
    jurisdiction: str | None = None,
    on: date | None = None,
    turned_away_per_t: float | None = None,
) -> LotPrice:
    """Price one lot everywhere.

    Parameters
    ----------
    outlets : sequence of Outlet
        Made for this lot's grain.
    lot : Lot
    jurisdiction : str, optional
        Whose law holds; none is looked at without it.
    on : date, optional
    turned_away_per_t : float, optional
        What a tonne is worth that comes back; else the best outlet that takes any number. [money/t]

    Notes
    -----
    Law comes first: an outlet from which law bars the lot is never the best, whatever it pays, nor is it what
    a tonne that comes back is taken to be worth. A result that is not comparable has no price there. A
    censored result has the price of its bound; where the price differs beyond, ``bound_only`` says so.
    """
    verdicts = [_law(lot, o, jurisdiction, on) for o in outlets]
    barred = [tuple(v for v in vs if v.rule.effect is LawEffect.EXCLUDE) for vs in verdicts]
    comparable = [lot.profile == "" or o.accepts(lot.profile, as_is=lot.as_is) for o in outlets]
    able = [o for o, b, c in zip(outlets, barred, comparable, strict=True) if c and not b]
    fallback = turned_away_per_t
    if fallback is None:
        fallback = worth_turned_away([o for o in able if o.stands is Stands.NOW])
    exact = lot.kind is Kind.EXACT
    met = list(outlets) if exact else [replace(o, decides_here=True) for o in outlets]
    at_s = lot.seconds + (1e-6 if lot.kind is Kind.ABOVE else 0.0)
    prices = net_prices(met, at_s, lot.u_s or 0.0, lot.tonnes, turned_away_per_t=fallback)
    usable = np.where(
        [c and not b for c, b in zip(comparable, barred, strict=True)], prices.net_per_t[0], np.nan
    )
    curves = [net_curve(o, lot.tonnes, fallback or 0.0) for o in met]
    rows = [
        _row(
            met,
            i,
            lot,
            prices,
            usable,
            curves[i],
            comparable=comparable[i],
            barred=barred[i],
            law=verdicts[i],
        )
        for i in range(len(met))
    ]
    rows.sort(key=lambda r: (not r.usable, -(r.net_per_t or -math.inf)))
    one_sided = not exact and any(
        _differs(c, lot) for c, w, b in zip(curves, comparable, barred, strict=True) if w and not b
    )
    return LotPrice(lot, tuple(rows), fallback, one_sided)


def _law(lot: Lot, outlet: Outlet, jurisdiction: str | None, on: date | None) -> tuple[Verdict, ...]:
    if lot.law is None or jurisdiction is None:
        return ()
    found = law_on_lot(lot.law, jurisdiction, "feed" if outlet.is_feed else "food", on)
    return tuple(v for v in found if v.rule.effect is not LawEffect.NO_BLEND)


def _differs(curve: MoneyBySeconds, lot: Lot) -> bool:
    """A price that is not the same all the way beyond the bound."""
    m = curve
    beyond = m.breaks_s > lot.seconds if lot.kind is Kind.ABOVE else m.breaks_s < lot.seconds
    at = int(m.piece_of(lot.seconds + (1e-6 if lot.kind is Kind.ABOVE else 0.0)))
    return bool(beyond.any() or m.slope_per_s[at] != 0)


def _row(
    outlets: Sequence[Outlet],
    i: int,
    lot: Lot,
    prices: NetPrices,
    usable: np.ndarray,
    curve: MoneyBySeconds,
    *,
    comparable: bool,
    barred: tuple[Verdict, ...],
    law: tuple[Verdict, ...],
) -> Row:
    outlet = outlets[i]
    net = _number(prices.net_per_t[0, i]) if comparable else None
    reports = reports_at([outlet], lot.seconds, lot.u_s or 0.0)
    mean, sd = float(reports.mean_s[0, 0]), float(reports.sd_s[0, 0])
    low, high = _reach(curve, mean - _TAIL_Z * sd, mean + _TAIL_Z * sd)
    told = comparable and net is not None
    return Row(
        outlet=outlet,
        comparable=comparable,
        barred_by=barred,
        warned_by=tuple(v for v in law if v.rule.effect is LawEffect.WARN),
        net_per_t=net,
        at_mean_per_t=float(curve.at(lot.seconds)) if told else None,
        spread_per_t=_number(prices.spread_per_t[0, i]) if told else None,
        p_turned_away=float(prices.p_turned_away[0, i]) if comparable else None,
        p_not_stated=float(prices.p_not_stated[0, i]) if comparable else None,
        p_makes_it=_makes(outlet, lot, float(prices.p_makes_it[0, i])) if comparable else None,
        low_per_t=low if told else None,
        high_per_t=high if told else None,
        break_even=break_even_haul(outlets, usable, i) if told and not barred else None,
        side=_side(outlet, lot.seconds),
    )


def _number(value: float) -> float | None:
    return None if math.isnan(value) else float(value)


def _reach(curve: MoneyBySeconds, low_s: float, high_s: float) -> tuple[float, float]:
    inside = curve.breaks_s[(curve.breaks_s > low_s) & (curve.breaks_s < high_s)]
    at = np.concatenate([[low_s, high_s], inside - 1e-9, inside, inside + 1e-9])
    paid = curve.at(at)
    return float(paid.min()), float(paid.max())


def _makes(outlet: Outlet, lot: Lot, p: float) -> float | None:
    """Chance that the report lies within the limit; where only a bound is known, 1, 0 or not evaluated."""
    limit = outlet.limit
    if limit is None:
        return None
    if lot.kind is Kind.EXACT:
        return None if lot.u_s is None and not outlet.decides_here else p
    low, high = limit.low_report_s, limit.high_report_s
    if lot.kind is Kind.AT_OR_BELOW:
        return 0.0 if lot.seconds < low else None
    if lot.seconds > high:
        return 0.0
    return 1.0 if lot.seconds >= low and math.isinf(high) else None


def _side(outlet: Outlet, seconds: float) -> str:
    limit = outlet.limit
    if limit is None:
        return ""
    if seconds < limit.low_report_s:
        return "under"
    return "over" if seconds > limit.high_report_s else "within"
