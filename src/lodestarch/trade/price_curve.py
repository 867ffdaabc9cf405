"""What a buyer pays for every falling number, once the other factors are known."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from lodestarch.common.errors import NoAnswer
from lodestarch.common.money import MoneyBySeconds
from lodestarch.trade.effect import Effect, Piece, Standing, effect_of
from lodestarch.trade.money_unit import MoneyUnit, amount_per_tonne
from lodestarch.trade.offer import Clause, Offer
from lodestarch.trade.schedule import Schedule

__all__ = ["FN", "PriceCurve", "PriceMade", "price_curve"]

FN: Final = "fn_s"
_APART_S: Final = 1e-6
"""By how much a break is moved where two schedules give it to different sides. [s]  A choice of ours, far
below the step of any report."""

Bools = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class _Part:
    """A straight piece of a price: ``at + slope x``, up to ``high``. [money/t, s]"""

    high: float
    at: float
    slope: float
    standing: Standing
    upper_owns: bool
    """Whether the value exactly on ``high`` belongs to the next piece."""


@dataclass(frozen=True, slots=True)
class PriceCurve:
    """Price at the delivery point for every number that the deciding lab may report.

    Parameters
    ----------
    money : MoneyBySeconds
        Per tonne; 0 where there is no price.
    standing : ndarray of int
        One a piece: :class:`~lodestarch.trade.effect.Standing`.
    """

    money: MoneyBySeconds
    standing: npt.NDArray[np.int8]

    @property
    def no_price(self) -> Bools:
        """Pieces without a price."""
        return np.asarray(self.standing != Standing.PAID, dtype=np.bool_)

    @property
    def always_paid(self) -> bool:
        """Return whether every number has a price."""
        return not bool(self.no_price.any())

    def filled(self, per_t: float) -> MoneyBySeconds:
        """Return the price with ``per_t`` where there is none. [money/t]"""
        m = self.money
        none = self.no_price
        at, slope = np.where(none, per_t, m.intercept), np.where(none, 0.0, m.slope_per_s)
        return MoneyBySeconds(m.breaks_s, at, slope, m.upper_owns, m.unit)

    def chance_of(self, standing: Standing) -> MoneyBySeconds:
        """Return 1 where the price stands so, else 0: its mean is the chance of it."""
        m = self.money
        one = np.asarray(self.standing == standing, dtype=np.float64)
        return MoneyBySeconds(m.breaks_s, one, np.zeros_like(one), m.upper_owns, "1")

    def standing_at(self, fn_s: float) -> Standing:
        """Return how the price stands at one number."""
        return Standing(int(self.standing[int(self.money.piece_of(fn_s))]))


@dataclass(frozen=True, slots=True)
class PriceMade:
    """A price curve, and what was not known when it was made.

    Parameters
    ----------
    curve : PriceCurve
    missing : tuple of str
        Factors that move the price and have no value: their part is left out.
    turned_away_by : tuple of str
        Factors for which this grain is turned away whatever its seconds.
    """

    curve: PriceCurve
    missing: tuple[str, ...]
    turned_away_by: tuple[str, ...]


def price_curve(
    offer: Offer, schedules: Iterable[Schedule], factors: Mapping[str, float], currency: str
) -> PriceMade:
    """Put an offer's price, schedules and limits together.

    Parameters
    ----------
    offer : Offer
        With a price.
    schedules : iterable of Schedule
        In the order in which they are applied: a share is taken of the price as the ones before left it.
    factors : mapping
        Values of the other factors by key; what is missing is named in the answer.
    currency : str

    Raises
    ------
    NoAnswer
        ``price-missing``; ``price-unit-unknown``: money by something that is no mass of this material;
        ``price-combine-missing``: several schedules and no word how they combine; ``price-curved``: a share
        that moves with the seconds, taken of a price that does; ``schedule-too-fine``.

    Notes
    -----
    *Additive*: every schedule changes the price that the one before left. *Worst only*: each is applied to
    the plain price by itself, and the lowest price counts. Where an offer has limits of a factor and no
    schedule for it, nothing is stated beyond the limits (a limit of one load: it is turned away). Where
    ``counts_from`` lies half a unit below the limit the deciding lab rounds, and every break is moved by
    that half unit; any other distance moves the break at the limit alone.
    """
    if offer.price is None or offer.price.value is None:
        raise NoAnswer("price-missing", offer=offer.id)
    unit = offer.price.unit
    used = list(schedules)
    if len(used) > 1 and offer.combine is None:
        raise NoAnswer("price-combine-missing", offer=offer.id)
    base = _money(offer, unit)(offer.price.value)
    plain = [_Part(math.inf, base, 0.0, Standing.PAID, upper_owns=True)]
    missing: list[str] = []
    away: list[str] = []
    running = plain
    lowest: list[_Part] | None = None
    for schedule in used:
        start = plain if offer.combine == "worst-only" else running
        effect = effect_of(schedule, _money(offer, schedule.unit), _money(offer, unit))
        if schedule.factor == FN:
            running = _applied(effect, start)
        elif schedule.factor in factors:
            after = _at_known(effect, start, factors[schedule.factor])
            if all(p.standing is Standing.TURNED_AWAY for p in after):
                away.append(schedule.factor)
            running = after
        else:
            missing.append(schedule.factor)
            running = start
        if offer.combine == "worst-only":
            lowest = running if lowest is None else _lower(lowest, running)
            running = lowest
    running, more, barred = _limited(offer.clauses, {s.factor for s in used}, factors, running)
    missing += more
    away += barred
    for clause in offer.clauses:
        if clause.factor == FN:
            running = _counted(clause, running)
    return PriceMade(_curve(_merged(running), currency), tuple(dict.fromkeys(missing)), tuple(away))


def _money(offer: Offer, unit: MoneyUnit | None) -> Callable[[float], float]:
    """From amounts in a unit to money per tonne of the offer's material."""

    def convert(amount: float) -> float:
        if unit is None:
            return amount
        per_t = amount_per_tonne(amount, unit, offer.material)
        if per_t is None:
            raise NoAnswer("price-unit-unknown", offer=offer.id, unit=str(unit))
        return per_t

    return convert


def _at_known(effect: Effect, price: list[_Part], value: float) -> list[_Part]:
    """A price after a factor whose value is known."""
    out = []
    for p in price:
        if p.standing is not Standing.PAID:
            out.append(p)
            continue
        # Which side a value on a boundary falls on is a matter of the price at hand.
        piece = _chosen(effect, value, p.at)
        if piece.standing is not Standing.PAID:
            out.append(_Part(p.high, 0.0, 0.0, piece.standing, p.upper_owns))
            continue
        keep, add = piece.keep + piece.keep_slope * value, piece.add + piece.add_slope * value
        out.append(_Part(p.high, keep * p.at + add, keep * p.slope, Standing.PAID, p.upper_owns))
    return out


def _chosen(effect: Effect, value: float, price: float) -> Piece:
    pick = min if effect.worse_side else max
    return pick(effect.at(value), key=lambda piece: piece.of(price, value))


def _value(p: _Part, x: float) -> float:
    return p.at + p.slope * x if p.standing is Standing.PAID else -math.inf


def _cuts(price: list[_Part]) -> list[tuple[float, bool]]:
    return [(p.high, p.upper_owns) for p in price[:-1]]


def _part_at(price: list[_Part], x: float) -> _Part:
    """The piece that holds a point inside a piece."""
    return next(p for p in price if x < p.high)


def _inside(low: float, high: float) -> float:
    if math.isinf(low):
        return high - 1.0 if math.isfinite(high) else 0.0
    return low + 1.0 if math.isinf(high) else (low + high) / 2


def _applied(effect: Effect, price: list[_Part]) -> list[_Part]:
    """A price after a schedule of seconds."""
    own: list[tuple[float, bool]] = []
    for i, piece in enumerate(effect.pieces[:-1]):
        x = piece.high
        # The schedule's own jump decides who owns its boundary, whatever else happens to lie there.
        here = _owner(price, x)
        below, above = (p.of(here.at + here.slope * x, x) for p in (piece, effect.pieces[i + 1]))
        own.append((x, effect.upper_owns(i, below, above)))
    moved = {x: _apart(x, own_up, price) for x, own_up in own}
    cuts = _joined_cuts(_cuts(price), [(moved[x], up) for x, up in own])
    highs = [moved[p.high] for p in effect.pieces[:-1]] + [math.inf]
    out = []
    low = -math.inf
    for high, up in [*cuts, (math.inf, True)]:
        x = _inside(low, high)
        piece = next(p for p, end in zip(effect.pieces, highs, strict=True) if x < end)
        out.append(_of_piece(piece, _part_at(price, x), high, up))
        low = high
    return out


def _owner(price: list[_Part], x: float) -> _Part:
    """The piece to which a value belongs."""
    return next(p for p in price if x < p.high or (x == p.high and not p.upper_owns))


def _apart(x: float, upper_owns: bool, price: list[_Part]) -> float:
    """Where a break comes to lie that another schedule gives to the other side."""
    for cut, theirs in _cuts(price):
        if cut == x and theirs != upper_owns:
            return x + _APART_S if theirs else x - _APART_S
    return x


def _joined_cuts(a: list[tuple[float, bool]], b: list[tuple[float, bool]]) -> list[tuple[float, bool]]:
    return sorted(dict([*a, *b]).items())


def _of_piece(piece: Piece, price: _Part, high: float, upper_owns: bool) -> _Part:
    if price.standing is not Standing.PAID:
        return _Part(high, 0.0, 0.0, price.standing, upper_owns)
    if piece.standing is not Standing.PAID:
        return _Part(high, 0.0, 0.0, piece.standing, upper_owns)
    if piece.keep_slope != 0 and price.slope != 0:
        raise NoAnswer("price-curved")
    at = piece.keep * price.at + piece.add
    slope = piece.keep_slope * price.at + piece.keep * price.slope + piece.add_slope
    return _Part(high, at, slope, Standing.PAID, upper_owns)


def _lower(a: list[_Part], b: list[_Part]) -> list[_Part]:
    """The lower of two prices, piece by piece; lines that cross are cut where they cross."""
    cuts = _joined_cuts(_cuts(a), [(_apart(x, up, a), up) for x, up in _cuts(b)])
    out: list[_Part] = []
    low = -math.inf
    for high, up in [*cuts, (math.inf, True)]:
        x = _inside(low, high)
        first, second = _part_at(a, x), _part_at(b, x)
        crossing = _crossing(first, second, low, high)
        if crossing is not None:
            under = min((first, second), key=lambda p: _value(p, _inside(low, crossing)))
            out.append(_Part(crossing, under.at, under.slope, under.standing, upper_owns=True))
            x = _inside(crossing, high)
        under = min((first, second), key=lambda p: _value(p, x))
        out.append(_Part(high, under.at, under.slope, under.standing, up))
        low = high
    return out


def _crossing(a: _Part, b: _Part, low: float, high: float) -> float | None:
    if a.standing is not Standing.PAID or b.standing is not Standing.PAID or a.slope == b.slope:
        return None
    x = (b.at - a.at) / (a.slope - b.slope)
    return x if low < x < high else None


def _limited(
    clauses: Iterable[Clause], priced: set[str], factors: Mapping[str, float], price: list[_Part]
) -> tuple[list[_Part], list[str], list[str]]:
    """Limits of factors without a schedule: no price beyond them."""
    missing: list[str] = []
    away: list[str] = []
    for clause in clauses:
        if clause.factor in priced:
            continue
        low = clause.counts_from if clause.counts_from is not None else clause.at_least
        high = clause.counts_to if clause.counts_to is not None else clause.at_most
        if clause.factor == FN:
            price = _within(price, clause.at_least, clause.at_most)
        elif clause.factor not in factors:
            missing.append(clause.factor)
        elif (low is not None and factors[clause.factor] < low) or (
            high is not None and factors[clause.factor] > high
        ):
            away.append(clause.factor)
            price = [_Part(math.inf, 0.0, 0.0, Standing.TURNED_AWAY, upper_owns=True)]
    return price, missing, away


def _within(price: list[_Part], low: float | None, high: float | None) -> list[_Part]:
    """A price with none beyond a floor and a ceiling, both of which are within."""
    pieces = []
    if low is not None:
        pieces.append(Piece(-math.inf, low, standing=Standing.TURNED_AWAY))
    pieces.append(Piece(low if low is not None else -math.inf, high if high is not None else math.inf))
    if high is not None:
        pieces.append(Piece(high, math.inf, standing=Standing.TURNED_AWAY))
    return _applied(Effect(FN, tuple(pieces), worse_side=False), price)


def _counted(clause: Clause, price: list[_Part]) -> list[_Part]:
    """Breaks moved to the smallest and largest reports that count."""
    out = price
    for limit, counts, sign in (
        (clause.at_least, clause.counts_from, 1.0),
        (clause.at_most, clause.counts_to, -1.0),
    ):
        if limit is None or counts is None or counts == limit:
            continue
        if sign * (limit - counts) == 0.5:
            return _moved(price, _half_away)
        out = _moved(out, lambda p, at=limit, to=counts: to if p.high == at else p.high)  # type: ignore[misc]  # defaults bind
    return out


def _moved(price: list[_Part], where: Callable[[_Part], float]) -> list[_Part]:
    """Breaks at which the price jumps, moved."""
    out = []
    for i, p in enumerate(price):
        after = price[i + 1] if i + 1 < len(price) else p
        jumps = i + 1 < len(price) and (
            after.standing != p.standing or not math.isclose(_value(p, p.high), _value(after, p.high))
        )
        out.append(_Part(where(p) if jumps else p.high, p.at, p.slope, p.standing, p.upper_owns))
    return out


def _half_away(p: _Part) -> float:
    """A break as unrounded reports meet it, where whole seconds are reported and halves go up."""
    if not float(p.high).is_integer():
        return p.high
    return p.high - 0.5 if p.upper_owns else p.high + 0.5


def _merged(price: list[_Part]) -> list[_Part]:
    """Neighbours that say the same are one."""
    out: list[_Part] = []
    for p in price:
        if out and (out[-1].at, out[-1].slope, out[-1].standing) == (p.at, p.slope, p.standing):
            out.pop()
        out.append(p)
    return out


def _curve(price: list[_Part], currency: str) -> PriceCurve:
    money = MoneyBySeconds(
        np.array([p.high for p in price[:-1]], dtype=np.float64),
        np.array([p.at if p.standing is Standing.PAID else 0.0 for p in price], dtype=np.float64),
        np.array([p.slope if p.standing is Standing.PAID else 0.0 for p in price], dtype=np.float64),
        np.array([p.upper_owns for p in price[:-1]], dtype=np.bool_),
        f"{currency}/t",
    )
    return PriceCurve(money, np.array([p.standing for p in price], dtype=np.int8))
