"""A day's prices on the terminal: a line a load, the advice, the sums."""

from __future__ import annotations

from lodestarch.cli.output import say, table
from lodestarch.plan.advice import Do
from lodestarch.plan.priced_loads import PricedLoad
from lodestarch.words.catalogues import term
from lodestarch.words.limits import short_name
from lodestarch.words.money import PlaceUnit, money_whole, per_unit
from lodestarch.words.numbers import DASH, number
from lodestarch.words.price import advice_short
from lodestarch.work.office.day_prices import DayPrices

__all__ = ["show_day_prices"]


def _line(one: PricedLoad, place: PlaceUnit) -> tuple[str, ...]:
    best = one.price.best
    if best is None:
        return one.price.lot.name, DASH, DASH, DASH, DASH, advice_short(one.advice, one.price, place)
    makes = DASH if best.p_makes_it is None else f"{number(100 * best.p_makes_it)} %"
    return (
        one.price.lot.name,
        short_name(best.outlet.buyer),
        per_unit(best.net_per_t, place),
        money_whole(one.net, place),
        makes,
        advice_short(one.advice, one.price, place),
    )


def show_day_prices(prices: DayPrices, *, brief: bool = False) -> None:
    """Show where each load goes and what the day brings; ``brief`` leaves out what is simply sold."""
    say(term("day-price.heading"))
    columns = [
        ("ticket", "left"), ("buyer", "left"), ("after haul", "right"), ("the load", "right"),
        ("makes it", "right"), ("advice (opinion)", "left"),
    ]  # fmt: skip
    shown = [one for one in prices.day.loads if not (brief and one.advice.do is Do.SELL)]
    table(columns, [_line(one, prices.place) for one in shown])
    gone = [one for one in prices.day.loads if one.net is not None]
    say(
        term(
            "day-price.total",
            loads=len(gone),
            tonnes=number(prices.day.tonnes),
            net=money_whole(prices.day.net, prices.place),
            stake=money_whole(prices.day.at_stake, prices.place),
        )
    )
    if prices.missing:
        factors = ", ".join(term(f"factor.{key}") for key in prices.missing)
        say(term("day-price.missing", factors=factors))
    counts = (("held", prices.held), ("untested", prices.untested), ("no-outlet", prices.no_outlet))
    left = [term(f"day-price.{name}", count=n) for name, n in counts if n]
    if left:
        count = sum(n for _, n in counts)
        say(term("day-price.left-out", count=count, reasons="; ".join(left)))
