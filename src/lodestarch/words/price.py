"""Prices and advice in sentences: what it brings, how sure, what would change it."""

from __future__ import annotations

from collections.abc import Iterable

from lodestarch.plan.advice import RISE_FROM_S, Advice, Do, Why
from lodestarch.trade.haul import KM_PER_MILE
from lodestarch.trade.law import Verdict
from lodestarch.trade.likely_function import FunctionStatement, Level, likely_function
from lodestarch.trade.lot_price import LotPrice, Row
from lodestarch.trade.outlets import Stands
from lodestarch.words.catalogues import DEFAULT_LOCALE, term
from lodestarch.words.decide import count_of, how_often, pct
from lodestarch.words.limits import short_name
from lodestarch.words.money import PlaceUnit, money_whole, per_unit
from lodestarch.words.numbers import figure, number

__all__ = [
    "advice_lines",
    "advice_sentence",
    "advice_short",
    "function_lines",
    "price_lines",
    "price_sentence",
    "row_remark",
    "rules_named",
]


def rules_named(verdicts: Iterable[Verdict]) -> str:
    """Names of rules, each once."""
    return ", ".join(dict.fromkeys(v.rule.id for v in verdicts))


def _count(p: float, locale: str) -> str:
    """A chance as a count with its number in brackets."""
    n, of = count_of(p)
    return term("chance.count", locale, count=n, of=of, pct=pct(p, locale))


def _factors(keys: Iterable[str], locale: str) -> str:
    return ", ".join(term(f"factor.{key}", locale) for key in keys)


def _odds(row: Row, locale: str) -> str:
    p = row.p_makes_it
    if p is None:
        return term("price.odds-unknown", locale)
    name = "makes" if p >= 0.5 else "fails"
    return term(f"price.{name}", locale, chance=_count(max(p, 1.0 - p), locale))


def _nothing(price: LotPrice, locale: str) -> str:
    barred = [v for r in price.rows for v in r.barred_by]
    if barred:
        return term("price.none-law", locale, rules=rules_named(barred))
    if price.rows and not any(r.comparable for r in price.rows):
        return term("price.none-not-comparable", locale)
    return term("price.none-no-price", locale)


def price_sentence(price: LotPrice, place: PlaceUnit, locale: str = DEFAULT_LOCALE) -> str:
    """The sentence on top: where it goes, for how much after haul, and the odds there."""
    best = price.best
    if best is None:
        return _nothing(price, locale)
    said = {"buyer": short_name(best.outlet.buyer), "net": per_unit(best.net_per_t, place, locale)}
    if best.outlet.limit is None:
        return term("price.best-plain", locale, **said)
    return term("price.best", locale, **said, chance=_odds(best, locale))


def row_remark(row: Row, locale: str = DEFAULT_LOCALE) -> str:
    """What has to be said of one buyer beside the figures."""
    if row.barred_by:
        return term("price.barred", locale, rules=rules_named(row.barred_by))
    if not row.comparable:
        return term("price.not-comparable", locale)
    return "; ".join((*_standing(row, locale), *_chances(row, locale)))


def _standing(row: Row, locale: str) -> list[str]:
    """When it can go there, and on which side of the limit it lies."""
    said = []
    o = row.outlet
    if o.stands is Stands.LATER and o.opens_on is not None:
        said.append(term("price.later", locale, day=o.opens_on.isoformat()))
    if o.turned_away_by:
        said.append(term("price.turned-away-by", locale, factors=_factors(o.turned_away_by, locale)))
    elif row.net_per_t is None:
        said.append(term("price.not-evaluated", locale))
    if row.side in {"under", "over"}:
        said.append(term(f"price.{row.side}", locale))
    return said


def _chances(row: Row, locale: str) -> list[str]:
    """What may happen there, and what was not looked at."""
    said = []
    o = row.outlet
    if not o.turned_away_by and (row.p_turned_away or 0.0) >= 0.01:
        said.append(term("price.away", locale, chance=_count(row.p_turned_away or 0.0, locale)))
    if (row.p_not_stated or 0.0) >= 0.005:
        said.append(term("price.unstated", locale, chance=_count(row.p_not_stated or 0.0, locale)))
    if row.warned_by:
        said.append(term("price.warned", locale, rules=rules_named(row.warned_by)))
    if o.missing:
        said.append(term("price.missing", locale, factors=_factors(o.missing, locale)))
    return said


def price_lines(price: LotPrice, place: PlaceUnit, locale: str = DEFAULT_LOCALE) -> tuple[str, ...]:
    """What stands beneath the buyers: the odds' part in the price, what is at stake, how far it may go."""
    best = price.best
    if best is None:
        return ()
    said = []
    if price.bound_only:
        said.append(term("price.bound", locale, seconds=figure(price.lot.seconds, 1)))
    at_mean, net = (per_unit(x, place, locale) for x in (best.at_mean_per_t, best.net_per_t))
    if at_mean != net:
        said.append(term("price.at-mean", locale, at_mean=at_mean, net=net))
    if price.at_stake:
        said.append(term("price.stake", locale, money=money_whole(price.at_stake, place, locale)))
    far = best.break_even.distance_km if best.break_even is not None else None
    if far is not None:
        who = short_name(best.outlet.buyer)
        miles = place.per in {"bu", "cwt"}
        name, value = ("price.haul-mi", far / KM_PER_MILE) if miles else ("price.haul-km", far)
        said.append(term(name, locale, buyer=who, mi=number(value), km=number(value)))
    return (*said, *_agreed(best, locale))


def _agreed(row: Row, locale: str) -> tuple[str, ...]:
    """Whose number is final at the best buyer, who draws the sample, until when an appeal is open."""
    agreed, parts = row.outlet.agreed, []
    if agreed.final is not None:
        parts.append(term(f"price-final.{agreed.final.value}", locale))
    if agreed.sampled_by is not None:
        parts.append(
            term("price.sampled-by", locale, who=term(f"price-sampler.{agreed.sampled_by.value}", locale))
        )
    if agreed.appeal_days is not None:
        parts.append(term("price.appeal", locale, days=agreed.appeal_days))
    if agreed.retest_rule is not None:
        parts.append(
            term("price.combine", locale, rule=term(f"retest-rule.{agreed.retest_rule.value}", locale))
        )
    said = (
        [term("price.agreed", locale, buyer=short_name(row.outlet.buyer), what="; ".join(parts))]
        if parts
        else []
    )
    if row.outlet.paid_part < 1.0:
        said.append(term("price.shrunk", locale, pct=number(100.0 * (1.0 - row.outlet.paid_part), 2)))
    return tuple(said)


def advice_sentence(advice: Advice, price: LotPrice, place: PlaceUnit, locale: str = DEFAULT_LOCALE) -> str:
    """What to do, with its reason."""
    row = advice.row
    buyer = "" if row is None else short_name(row.outlet.buyer)
    values = {"buyer": buyer, "rules": rules_named(v for r in price.rows for v in r.barred_by)}
    if advice.do is Do.SELL:
        if advice.ahead_per_t is None or advice.ahead_per_t <= 0.0:
            return term("advice.sell", locale, **values)
        return term("advice.sell-ahead", locale, **values, ahead=per_unit(advice.ahead_per_t, place, locale))
    if advice.retest is not None:
        values |= {
            "worth": money_whole(advice.retest.worth, place, locale),
            "cost": money_whole(advice.retest.cost, place, locale),
            "chance": how_often(advice.retest.changes, locale),
        }
    if advice.keeping is not None and advice.keeping.until is not None:
        values |= {
            "day": advice.keeping.until.isoformat(),
            "offer": advice.keeping.offer_id or "",
            "low": per_unit(advice.keeping.low_per_t, place, locale),
        }
    return term(f"advice.{advice.do.value}-{advice.why.value}", locale, **values)


def advice_short(advice: Advice, price: LotPrice, place: PlaceUnit, locale: str = DEFAULT_LOCALE) -> str:
    """An advice in a few words, for a line of a table."""
    if advice.do is Do.RETEST and advice.why is Why.TEST_PAYS and advice.retest is not None:
        return term("advice-short.test-pays", locale, worth=money_whole(advice.retest.worth, place, locale))
    rules = rules_named(v for r in price.rows for v in r.barred_by)
    return term(f"advice-short.{advice.why.value}", locale, rules=rules)


def advice_lines(
    advice: Advice, price: LotPrice, place: PlaceUnit, locale: str = DEFAULT_LOCALE
) -> tuple[str, ...]:
    """The figures that led to an advice and what would change it, and that it is an opinion."""
    return (
        *_retest_line(advice, place, locale),
        *_turn_lines(advice, price, locale),
        *_keep_lines(advice, price, place, locale),
        term("advice.opinion", locale),
    )


def _retest_line(advice: Advice, place: PlaceUnit, locale: str) -> tuple[str, ...]:
    retest = advice.retest
    if retest is None or advice.do is Do.RETEST:
        return ()
    worth = money_whole(retest.worth, place, locale)
    if retest.worth < 0.005:
        return (term("advice.retest-nothing", locale),)
    if retest.cost is None:
        return (term("advice.retest-worth", locale, worth=worth),)
    return (term("advice.retest-no", locale, worth=worth, cost=money_whole(retest.cost, place, locale)),)


def _turn_lines(advice: Advice, price: LotPrice, locale: str) -> tuple[str, ...]:
    said = []
    for name, turn in (("lower", advice.lower), ("higher", advice.higher)):
        if turn is not None:
            seconds = figure(price.lot.seconds + turn[0].shift_s, 1)
            said.append(term(f"advice.{name}", locale, seconds=seconds, buyer=short_name(turn[1].buyer)))
    if not said and advice.row is not None and advice.retest is not None:
        said.append(term("advice.steady", locale))
    return tuple(said)


def _keep_lines(advice: Advice, price: LotPrice, place: PlaceUnit, locale: str) -> tuple[str, ...]:
    keep = advice.keeping
    if keep is None or advice.do is Do.STORE:
        return ()
    if not keep.rises and keep.until is None:
        low_lot = price.lot.seconds <= RISE_FROM_S
        return (term("advice.keep-low", locale, seconds=figure(RISE_FROM_S)),) if low_lot else ()
    cost = term("advice.keep-no-cost" if keep.cost_per_t is None else "advice.keep-cost", locale)
    low, high = (per_unit(x, place, locale) for x in (keep.low_per_t, keep.high_per_t))
    return (term("advice.keep", locale, months=figure(keep.months, 1), low=low, high=high, cost=cost),)


def function_lines(price: LotPrice, locale: str = DEFAULT_LOCALE) -> tuple[str, ...]:
    """Likely function at the buyer where the lot goes, with sources; empty where its use is not stated."""
    best = price.best
    if best is None or best.outlet.use is None:
        return ()
    level = {"under": Level.LOW, "over": Level.HIGH}.get(best.side, Level.WITHIN)
    if best.outlet.is_feed:
        level = Level.LOW
    said = [_function(s, locale) for s in likely_function(best.outlet.use, level)]
    return (term("function.heading", locale, use=best.outlet.use.replace("-", " ")), *said)


def _function(statement: FunctionStatement, locale: str) -> str:
    said = term(f"function.{statement.code}", locale)
    if not statement.source:
        return said
    return term("function.source", locale, said=said, source=statement.source)
