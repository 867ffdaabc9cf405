"""Prices on the terminal: the sentence, the buyers by net, what led to the advice."""

from __future__ import annotations

from lodestarch.cli.output import say, table
from lodestarch.words.catalogues import term
from lodestarch.words.limits import short_name
from lodestarch.words.money import PlaceUnit, money_whole, per_unit
from lodestarch.words.numbers import DASH, figure, number
from lodestarch.words.price import (
    advice_lines,
    advice_sentence,
    function_lines,
    price_lines,
    price_sentence,
    row_remark,
)
from lodestarch.work.office.price import CargoAnswer, PriceAnswer

__all__ = ["show_cargo", "show_price"]


def show_price(answer: PriceAnswer, place: PlaceUnit, *, demonstration: bool) -> None:
    """Show a priced lot."""
    price, advice = answer.price, answer.advice
    if price is None or advice is None:
        return
    if demonstration:
        say(term("price.demo"))
    say(price_sentence(price, place))
    if answer.u_from_scatter:
        say(term("price.u-scatter", u=number(price.lot.u_s, 1)))
    say()
    rows = []
    for row in price.rows:
        net = row.net_per_t
        makes = DASH if row.p_makes_it is None else f"{number(100 * row.p_makes_it)} %"
        whole = DASH if net is None else money_whole(net * price.lot.tonnes, place)
        shown = per_unit(net, place) if net is not None else DASH
        rows.append((short_name(row.outlet.buyer), shown, whole, makes, row_remark(row)))
    table(
        [
            ("buyer", "left"),
            ("after haul", "right"),
            ("the lot", "right"),
            ("makes it", "right"),
            ("", "left"),
        ],
        rows,
    )
    say()
    say(advice_sentence(advice, price, place))
    for line in (*price_lines(price, place), *advice_lines(advice, price, place)):
        say(line)
    function = function_lines(price)
    if function:
        say()
        for line in function:
            say(line)


def show_cargo(answer: CargoAnswer) -> None:
    """Show one cargo under every clause."""
    rows = []
    for reading in answer.readings:
        outside = ", ".join(str(i + 1) for i in reading.sublots_outside)
        rows.append(
            (
                term(f"cargo-clause.{reading.judged.value}"),
                f"{figure(reading.value, 1)} s",
                term("cargo-clause.meets" if reading.within else "cargo-clause.fails"),
                term("cargo-clause.outside", sublots=outside) if outside else "",
            )
        )
    columns = [("clause", "left"), ("judged", "right"), ("", "left"), ("", "left")]
    table(columns, rows)
    say()
    if answer.agreed is None:
        say(term("cargo-clause.which"))
    else:
        say(term("cargo-clause.agreed", clause=term(f"cargo-clause.{answer.agreed.value}")))
