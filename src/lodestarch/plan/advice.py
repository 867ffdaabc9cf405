"""What to do with a lot: sell it here, test it again, keep it, or let it go as feed.

Advice is an opinion and marked so. It carries the figures that led to it and what would change it. What
another test is worth comes from ``decide``; keeping is a scenario with a wide band, never a promise.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Final

from lodestarch.decide import another_test
from lodestarch.decide.deciding_lab import DecidingLab
from lodestarch.decide.gain import AnotherTest, Design, Source, Spread
from lodestarch.method.reading import Kind
from lodestarch.trade.lot_price import LotPrice, Row
from lodestarch.trade.net_price import net_at, net_curve
from lodestarch.trade.outlets import Outlet, Stands
from lodestarch.trade.what_if import Turn, turns_at

__all__ = [
    "RISE_FROM_S",
    "RISE_MONTHS",
    "RISE_S",
    "Advice",
    "Costs",
    "Do",
    "Keeping",
    "Retest",
    "Why",
    "advise",
]

RISE_S: Final = (0.0, 50.0)
"""Change of the falling number over months of storage that was met. [s]  Published, one preliminary trial:
40 to 50 s in 4 to 6 months at 25 to 30 degrees; others found none, and poor storage lowered it (GRDC and
Agriculture Victoria, GroundCover)."""

RISE_FROM_S: Final = 250.0
"""Below it no change was met there. [s]"""

RISE_MONTHS: Final = 5.0
"""Middle of the 4 to 6 months of that trial. [months]"""

_DAYS_A_MONTH: Final = 365.25 / 12.0


class Do(StrEnum):
    """What to do."""

    SELL = "sell"
    RETEST = "retest"
    STORE = "store"
    FEED = "feed"
    NOTHING = "nothing"
    """No outlet can be named."""


class Why(StrEnum):
    """The reason in one word."""

    BEST_NET = "best-net"
    TEST_PAYS = "test-pays"
    LATER_PAYS = "later-pays"
    ONLY_FEED = "only-feed"
    FEED_PAYS_MOST = "feed-pays-most"
    LAW = "law"
    NOT_COMPARABLE = "not-comparable"
    NO_PRICE = "no-price"


@dataclass(frozen=True, slots=True)
class Costs:
    """What the place pays.

    Parameters
    ----------
    retest : float or None
        One more pair of tubes here, all in; ``None``: not stated, so that no retest is advised. [money]
    retest_hours : float
        Until it is there. [h]
    storage_per_t_month : float or None
        ``None``: not stated, so that keeping is shown without its cost and never advised. [money/(t month)]
    """

    retest: float | None = None
    retest_hours: float = 0.0
    storage_per_t_month: float | None = None


@dataclass(frozen=True, slots=True)
class Retest:
    """What one more pair from the same sample is worth before an outlet is chosen. [money]

    ``net`` is ``None`` where its cost is not stated; ``changes`` is the chance that it changes the outlet.
    """

    worth: float
    cost: float | None
    net: float | None
    changes: float


@dataclass(frozen=True, slots=True)
class Keeping:
    """Keeping the lot as a scenario.

    Parameters
    ----------
    months : float
    low_per_t, high_per_t : float
        Net at the best outlet then, with no change of the number and with the largest that was met, cost of
        keeping taken off where it is stated. [money/t]
    cost_per_t : float or None
        [money/t]
    rises : bool
        The number lies where a rise was met at all.
    until : date or None
        The day on which a later offer opens, where that is why.
    offer_id : str or None
    """

    months: float
    low_per_t: float
    high_per_t: float
    cost_per_t: float | None
    rises: bool
    until: date | None
    offer_id: str | None


@dataclass(frozen=True, slots=True)
class Advice:
    """What to do with one lot, and what led to it.

    Parameters
    ----------
    do : Do
    why : Why
    row : Row or None
        Where it goes; for a retest, where it would go without.
    ahead_per_t : float or None
        What it brings there more than at the next best. [money/t]
    retest : Retest or None
        ``None``: not evaluated.
    keeping : Keeping or None
    lower, higher : tuple of (Turn, Outlet) or None
        The nearest numbers at which another outlet is the best.
    """

    do: Do
    why: Why
    row: Row | None
    ahead_per_t: float | None
    retest: Retest | None
    keeping: Keeping | None
    lower: tuple[Turn, Outlet] | None
    higher: tuple[Turn, Outlet] | None


def advise(price: LotPrice, costs: Costs, *, on: date | None = None) -> Advice:
    """Advise on a priced lot.

    Parameters
    ----------
    price : LotPrice
    costs : Costs
    on : date, optional
        For the wait until a later offer opens.

    Returns
    -------
    Advice
        *Retest* where one more pair is worth more than it costs; *store* where a later offer brings more
        than all that stand now, the number unchanged and the stated cost of keeping taken off; *feed* where
        feed is the best or the only outlet; else *sell*. Where outlets cannot compare the result and it is
        known here alone, a comparable pair comes before all.
    """
    best = price.best
    usable = [r.outlet for r in price.rows if r.usable and r.outlet.stands is Stands.NOW]
    if best is None:
        return Advice(Do.NOTHING, _nothing(price), None, None, None, _keeping(price, costs, on), None, None)
    ahead = _ahead(price, best)
    retest = _retest(price, usable, costs)
    keeping = _keeping(price, costs, on)
    lower, higher = _turns(price, usable)
    do, why = Do.SELL, Why.BEST_NET
    if any(not r.comparable and r.outlet.stands is Stands.NOW for r in price.rows):
        do, why = Do.RETEST, Why.NOT_COMPARABLE
    elif best.outlet.is_feed:
        do = Do.FEED
        why = _why_feed(price, len(usable))
    if do is not Do.RETEST:
        if _later_pays(keeping, best):
            do, why = Do.STORE, Why.LATER_PAYS
        elif retest is not None and retest.net is not None and retest.net > 0.0:
            do, why = Do.RETEST, Why.TEST_PAYS
    return Advice(do, why, best, ahead, retest, keeping, lower, higher)


def _later_pays(keeping: Keeping | None, best: Row) -> bool:
    if keeping is None or keeping.until is None or keeping.cost_per_t is None or best.net_per_t is None:
        return False
    return keeping.low_per_t > best.net_per_t


def _ahead(price: LotPrice, best: Row) -> float | None:
    others = [r.net_per_t for r in price.rows if r is not best and r.usable and r.outlet.stands is Stands.NOW]
    left = [n for n in others if n is not None]
    return None if not left or best.net_per_t is None else best.net_per_t - max(left)


def _nothing(price: LotPrice) -> Why:
    if any(r.barred_by for r in price.rows):
        return Why.LAW
    if price.rows and not any(r.comparable for r in price.rows):
        return Why.NOT_COMPARABLE
    return Why.NO_PRICE


def _why_feed(price: LotPrice, usable: int) -> Why:
    barred = any(r.barred_by for r in price.rows if not r.outlet.is_feed)
    if barred:
        return Why.LAW
    return Why.FEED_PAYS_MOST if usable > 1 else Why.ONLY_FEED


def _retest(price: LotPrice, outlets: Sequence[Outlet], costs: Costs) -> Retest | None:
    """One more pair of tubes from the same meal, at the outlets that could be chosen."""
    lot = price.lot
    if lot.kind is not Kind.EXACT or not lot.u_s or not outlets:
        return None
    places = [
        another_test.Outlet(
            o.offer_id,
            net_curve(o, lot.tonnes, price.turned_away_per_t or 0.0).times(lot.tonnes),
            DecidingLab(0.0) if o.decides_here else o.deciding or DecidingLab(0.0),
        )
        for o in outlets
    ]
    pair = Design(tubes=2)
    spread = Spread(tube_s=lot.u_s * 2.0**0.5)
    test = AnotherTest("same meal", Source.SAME_MEAL, pair, costs.retest or 0.0, costs.retest_hours)
    (got,) = another_test.worth_of_tests(places, [test], spread, pair, lot.seconds)
    return Retest(got.worth, costs.retest, None if costs.retest is None else got.net, got.changes)


def _keeping(price: LotPrice, costs: Costs, on: date | None) -> Keeping | None:
    """Keep it until a later offer opens, where there is a better one; else for some months."""
    lot = price.lot
    if lot.kind is not Kind.EXACT:
        return None
    usable = [r.outlet for r in price.rows if r.usable]
    later = price.best_later
    until = later.outlet.opens_on if later is not None else None
    if later is not None and until is not None and on is not None:
        months, pool = (until - on).days / _DAYS_A_MONTH, [later.outlet]
    else:
        months, pool, until = RISE_MONTHS, [o for o in usable if o.stands is Stands.NOW], None
    if not pool:
        return None
    cost = None if costs.storage_per_t_month is None else costs.storage_per_t_month * months
    rises = lot.seconds > RISE_FROM_S and until is None
    if price.turned_away_per_t is None and not all(o.curve.always_paid for o in pool):
        return None
    gains = [lot.seconds + gain for gain in (RISE_S if rises else (0.0,))]
    after = net_at(pool, gains, lot.u_s or 0.0, lot.tonnes, turned_away_per_t=price.turned_away_per_t or 0.0)
    low, high = (float(pick(after.max(axis=1))) for pick in (min, max))
    off = cost or 0.0
    name = later.outlet.offer_id if later is not None and until is not None else None
    return Keeping(months, low - off, high - off, cost, rises, until, name)


def _turns(
    price: LotPrice, outlets: Sequence[Outlet]
) -> tuple[tuple[Turn, Outlet] | None, tuple[Turn, Outlet] | None]:
    lot = price.lot
    if lot.kind is not Kind.EXACT or len(outlets) < 2:
        return None, None
    found = turns_at(
        outlets, lot.seconds, lot.u_s or 0.0, lot.tonnes, turned_away_per_t=price.turned_away_per_t
    )
    lower, higher = (None if t is None else (t, outlets[t.outlet]) for t in found)
    return lower, higher
