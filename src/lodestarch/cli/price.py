"""``price``: what a number brings at every buyer, or what every clause makes of a cargo."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from lodestarch.cli.options import AsJson, day_of, decimal
from lodestarch.cli.output import emit_json, finish, say, show_findings
from lodestarch.cli.price_table import show_cargo, show_price
from lodestarch.work.office.price import CargoAsked, PriceAsked

if TYPE_CHECKING:
    from collections.abc import Mapping

    from lodestarch.common.findings import Finding
    from lodestarch.sheets.terms import ReadTerms

__all__ = ["price"]


def _terms(path: Path | None, mapping: Path | None) -> tuple[ReadTerms, bool]:
    """Terms as read, and whether they are the demonstration's."""
    from lodestarch.sheets.terms import read_terms

    if path is None:
        from lodestarch import demo

        return read_terms(demo.terms(), demo.TERMS_NAME), True
    columns: Mapping[str, str] | None = None
    told: tuple[Finding, ...] = ()
    if mapping is not None:
        from lodestarch.sheets.mapping import read_mapping

        given = read_mapping(_bytes(mapping, "--mapping"), mapping.name)
        columns, told = given.columns, given.findings
    read = read_terms(_bytes(path, "--terms"), path.name, mapping=columns)
    return replace(read, findings=(*told, *read.findings)), False


def _bytes(path: Path, option: str) -> bytes:
    try:
        return path.read_bytes()
    except OSError as cause:
        raise typer.BadParameter(f"{path} cannot be read: {cause.strerror}", param_hint=option) from cause


def price(
    numbers: Annotated[
        list[str],
        typer.Argument(help="Seconds of a lot: 310, <=62, >400. Several (340:500 320): sublots of a cargo."),
    ],
    u: Annotated[
        float | None,
        typer.Option("--u", parser=decimal, help="Standard uncertainty [s]. [default: from tube scatter]"),
    ] = None,
    tonnes: Annotated[
        float | None, typer.Option(parser=decimal, help="Tonnes of the lot. [default: 25]")
    ] = None,
    terms: Annotated[
        Path | None,
        typer.Option(help="Terms of buyers, TOML, CSV or xlsx. [default: the demonstration's, invented]"),
    ] = None,
    mapping: Annotated[
        Path | None, typer.Option(help="Header names of your terms sheet beside ours (docs/terms.md).")
    ] = None,
    profile: Annotated[str, typer.Option(help="Method profile of the result: meal-14.")] = "",
    as_is: Annotated[bool, typer.Option("--as-is", help="Portions were weighed as is.")] = False,
    material: Annotated[str | None, typer.Option(help="wheat, durum, rye ...")] = None,
    grain_class: Annotated[str | None, typer.Option("--class", help="As the terms write it.")] = None,
    factor: Annotated[
        list[str] | None,
        typer.Option(help="Another factor, key=value: moisture_pct=13.2, protein_basis_pct=12. Repeat it."),
    ] = None,
    on: Annotated[str | None, typer.Option(help="Day of the offers. [default: that of the terms]")] = None,
    jurisdiction: Annotated[
        str | None, typer.Option(help="Whose law: US, CA, EU, GB, AU, other. [default: that of the terms]")
    ] = None,
    turned_away: Annotated[
        float | None,
        typer.Option(
            parser=decimal, help="Worth of a tonne that comes back. [default: an outlet that takes it]"
        ),
    ] = None,
    retest_cost: Annotated[
        float | None, typer.Option(parser=decimal, help="Cost of one more pair of tubes here.")
    ] = None,
    storage: Annotated[
        float | None, typer.Option(parser=decimal, help="Cost of keeping a tonne for a month.")
    ] = None,
    limit: Annotated[
        float | None, typer.Option(parser=decimal, help="For a cargo: the least that is wanted. [s]")
    ] = None,
    at_most: Annotated[
        float | None, typer.Option(parser=decimal, help="For a cargo: the most that is wanted. [s]")
    ] = None,
    sublot_limit: Annotated[
        float | None, typer.Option(parser=decimal, help="For a cargo: the least of one sublot. [s]")
    ] = None,
    counts_from: Annotated[
        float | None, typer.Option(parser=decimal, help="For a cargo: smallest report that counts. [s]")
    ] = None,
    offer: Annotated[
        str | None,
        typer.Option(help="For a cargo: contract or bid of the terms whose clause it is judged by."),
    ] = None,
    picture: Annotated[Path | None, typer.Option(help="Write price against seconds here, SVG.")] = None,
    as_json: AsJson = False,
) -> None:
    """What a number brings: net at every buyer over the odds, what to do, and what would change it."""
    if len(numbers) > 1 or limit is not None or at_most is not None or offer is not None:
        cargo = CargoAsked(numbers, limit, at_most, sublot_limit, counts_from, offer)
        _cargo(cargo, None if offer is None else _terms(terms, mapping)[0], as_json=as_json)
        return
    from lodestarch.plan.advice import Costs
    from lodestarch.trade.law import JURISDICTIONS
    from lodestarch.words.money import place_unit
    from lodestarch.work.office.price import price_for
    from lodestarch.work.office.price_json import price_as_dict

    if jurisdiction is not None and jurisdiction not in JURISDICTIONS:
        raise typer.BadParameter(", ".join(JURISDICTIONS), param_hint="--jurisdiction")
    read, demonstration = _terms(terms, mapping)
    asked = PriceAsked(
        number=numbers[0], u_s=u, tonnes=25.0 if tonnes is None else tonnes, profile=profile,
        as_is=as_is, material=material, grain_class=grain_class, factors=factor or (), on=day_of(on),
        jurisdiction=jurisdiction,
        turned_away_per_t=turned_away, costs=Costs(retest_cost, 0.0, storage),
    )  # fmt: skip
    answer = price_for(asked, read)
    answered = answer.price is not None and answer.price.best is not None
    if picture is not None and answer.price is not None and answer.terms is not None:
        from lodestarch.words.price_picture import price_svg

        picture.parent.mkdir(parents=True, exist_ok=True)
        picture.write_text(price_svg(answer.price, place_unit(answer.terms)), encoding="utf-8")
    if as_json:
        body = {} if answer.terms is None else price_as_dict(answer, place_unit(answer.terms))
        emit_json({**body, "demonstration": demonstration}, answer.findings)
    else:
        if answer.terms is not None and answer.price is not None:
            show_price(answer, place_unit(answer.terms), demonstration=demonstration)
        show_findings(answer.findings)
        if picture is not None and answer.price is not None:
            say(f"Picture: {picture}")
    finish(answer.findings, answered=answered)


def _cargo(asked: CargoAsked, read: ReadTerms | None, *, as_json: bool) -> None:
    from lodestarch.work.office.price import cargo_for
    from lodestarch.work.office.price_json import cargo_as_dict

    answer = cargo_for(asked, read)
    if as_json:
        emit_json(cargo_as_dict(answer), answer.findings)
    else:
        if answer.readings:
            show_cargo(answer)
        show_findings(answer.findings)
    finish(answer.findings, answered=bool(answer.readings))
