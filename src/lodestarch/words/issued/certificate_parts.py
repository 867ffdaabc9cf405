"""The parts of a certificate of test that tell what was tested, how, and what came out."""

from __future__ import annotations

from collections.abc import Iterator

from lodestarch.method.reading import Kind
from lodestarch.words.catalogues import terms
from lodestarch.words.issued.names import CustomerNames
from lodestarch.words.issued.result_words import (
    SIGN,
    basis_said,
    correction_said,
    deviation_said,
    limit_said,
    result_figure,
    tubes_said,
)
from lodestarch.words.issued.rounded_u import rounded_u
from lodestarch.words.issued.said import Say
from lodestarch.words.issued.sheet import Block, Bullets, Column, Heading, Rows, Table, Text
from lodestarch.words.issued.statement import Certificate, Conformity, StatedReading

__all__ = [
    "conformity_part", "deviations_part", "item_part", "method_part", "readings_part", "result_part",
]  # fmt: skip


def result_part(say: Say, given: Certificate) -> Iterator[Block]:
    """The result and how sure it is."""
    result = given.result
    yield Heading(say("result"))
    yield result_figure(say, given)
    how = {"mean": "mean-of", "median": "median-of"}.get(result.how, "single")
    rows = [(say("rests-on"), say(how, tubes=tubes_said(say, result)))]
    if result.k is not None:
        if result.expanded_s is None:
            rows.append((say("uncertainty"), say("uncertainty-none")))
        else:
            u = say.decimal(str(rounded_u(result.expanded_s, most_decimals=0)))
            rows.append((say("uncertainty"), say("uncertainty-said", u=u, k=say.figure(result.k, 2))))
    if result.spread_s is not None and result.tubes > 1:
        spread = say.figure(result.spread_s, 1)
        said = (
            say("apart-open", spread=spread)
            if result.limit_s is None
            else say("apart-said", spread=spread, limit=say.figure(result.limit_s, 1))
        )
        rows.append((say("apart"), said))
    yield Rows(tuple(rows))


def _grams(say: Say, mass: float | None) -> str:
    return say("issued.not-stated") if mass is None else f"{say.figure(mass, 1)}\u00a0g"


def item_part(say: Say, given: Certificate, customer: CustomerNames | None) -> Iterator[Block]:
    """Customer, sample, and how it was drawn."""
    item = given.item
    yield Heading(say("customer-and-sample"))
    who = say("issued.erased") if customer is None else say.text(customer.name)
    contact = say("issued.erased") if customer is None else say.text(customer.contact)
    variety = say.text(item.variety)
    if item.variety and item.variety_how in {"declared", "known"}:
        variety = say(f"variety-{item.variety_how}", variety=variety)
    tonnes = say("issued.not-stated") if item.tonnes is None else f"{say.figure(item.tonnes, 2)}\u00a0t"
    yield Rows(
        (
            (say("customer"), who),
            (say("contact"), contact),
            (say("sample"), say.text(item.sample)),
            (say("ticket"), say.text(item.ticket)),
            (say("kind"), say(f"kind-{item.kind}")),
            (say("material"), say.text(item.material)),
            (say("variety"), variety),
            (say("origin"), say.text(item.origin)),
            (say("harvested"), say.day(item.harvest_date)),
            (say("quantity"), tonnes),
            (say("mass"), _grams(say, item.mass_g)),
            (say("seal"), say.text(item.seal)),
            (say("condition"), say.text(item.condition)),
            (say("received"), say.moment(item.received_at)),
        )
    )
    drawn = given.drawn
    yield Heading(say("drawn"))
    rows = [(say("drawn-how"), say.text(drawn.how)), (say("drawn-by"), say.text(drawn.by))]
    if drawn.probes is not None:
        rows.append((say("probes"), str(drawn.probes)))
    if drawn.increments is not None:
        rows.append((say("increments"), str(drawn.increments)))
    yield Rows(tuple(rows))
    yield Text(say("drawn-note"), "small")


def _pct(say: Say, value: float | None) -> str:
    return say("issued.not-stated") if value is None else f"{say.figure(value, 2)}\u00a0%"


def method_part(say: Say, given: Certificate) -> Iterator[Block]:
    """Method and conditions."""
    used = given.method
    yield Heading(say("method"))
    mass = say.number(used.base_mass_g, 2)
    portion = (
        say("portion-as-is", mass=mass)
        if used.basis_pct is None or given.result.as_is
        else say("portion-basis", mass=mass, pct=say.figure(used.basis_pct))
    )
    correction = correction_said(say, used.correction)
    if used.pressure_hpa is not None:
        correction = say("correction-said", correction=correction, pressure=say.number(used.pressure_hpa, 1))
    standards = say("list.comma").join(say.text(s) for s in used.standards)
    rows = [
        (say("profile"), say("profile-said", profile=say.text(used.profile), title=say.text(used.title))),
        (say("cites"), say.text(used.cites)),
        (say("standards"), say("standards-said", standards=standards, day=say.day(used.signed_off_on))),
        (say("portion"), portion),
        (say("basis"), basis_said(say, given)),
        (say("correction"), correction),
        (say("cleaned"), _cleaned(say, given)),
        (say("ground"), _ground(say, given)),
        (say("moisture"), _moisture(say, given)),
        (say("worked"), _worked(say, given.readings)),
        (say("place"), say.text(given.lab.place_of_work) if given.lab.place_of_work else say("place-here")),
    ]
    yield Rows(tuple(rows))
    if used.invented:
        yield Text(say("invented-method"), "strong")


def _cleaned(say: Say, given: Certificate) -> str:
    used = given.method
    if used.cleaned_how is None:
        return say("issued.not-stated")
    return say(
        "cleaned-said", how=say.text(used.cleaned_how), dockage=_pct(say, used.dockage_pct),
        besatz=_pct(say, used.besatz_pct),
    )  # fmt: skip


def _ground(say: Say, given: Certificate) -> str:
    used = given.method
    if used.ground_mass_g is None and used.mill is None and used.ground_at is None:
        return say("issued.not-stated")
    return say(
        "ground-said", mass=_grams(say, used.ground_mass_g), mill=say.text(used.mill),
        at=say.moment(used.ground_at),
    )  # fmt: skip


def _moisture(say: Say, given: Certificate) -> str:
    used = given.method
    if used.moisture_pct is None:
        return say("issued.not-stated")
    on = used.moisture_on if used.moisture_on in {"grain", "meal"} else "not-stated"
    return say(
        "moisture-said", pct=say.number(used.moisture_pct, 1), method=say.text(used.moisture_method),
        on=say(f"on-{on}"), at=say.moment(used.moisture_at),
    )  # fmt: skip


def _worked(say: Say, readings: tuple[StatedReading, ...]) -> str:
    days = sorted({r.run_at[:10] for r in readings if r.run_at})
    if not days:
        return say("issued.not-stated")
    return days[0] if len(days) == 1 else say("worked-span", first=days[0], last=days[-1])


def readings_part(say: Say, given: Certificate) -> Iterator[Block]:
    """Every reading with run and position."""
    yield Heading(say("readings"))
    columns = (
        Column(say("run"), share=3),
        Column(say("position"), share=2),
        Column(say("seconds"), right=True, share=2),
        Column(say("portion-mass"), right=True, share=3),
        Column(say("moisture-pct"), right=True, share=3),
        Column(say("run-at"), share=4),
        Column(say("state"), share=6),
    )
    rows = tuple(_reading(say, r) for r in given.readings)
    yield Table(say("readings-name", sample=say.text(given.item.sample, 60)), columns, rows)


def _reading(say: Say, one: StatedReading) -> tuple[str, ...]:
    sign = SIGN[Kind(one.kind)]
    seconds = (f"{sign}\u00a0" if sign else "") + say.figure(one.seconds, 1)
    if one.replaced:
        state = say("state-replaced")
    elif one.state == "set-aside":
        cause = f"certificate.cause-{one.cause}"
        said = say(cause) if cause in terms(say.locale) else say.text(one.cause, 60)
        state = say("state-set-aside", cause=said)
    else:
        state = say(f"state-{one.state}")
    return (
        say.text(one.run, 40), say.text(one.position, 20), seconds, say.number(one.mass_g, 2),
        say.number(one.moisture_pct, 1), say.moment(one.run_at), state,
    )  # fmt: skip


def deviations_part(say: Say, given: Certificate) -> Iterator[Block]:
    """Additions, deviations and exclusions."""
    yield Heading(say("deviations"))
    if given.deviations:
        yield Bullets(tuple(deviation_said(say, d) for d in given.deviations))
    else:
        yield Text(say("deviation-none"))


def conformity_part(say: Say, given: Certificate, stated: Conformity) -> Iterator[Block]:
    """The statement of conformity under the rule that was agreed."""
    yield Heading(say("conformity"))
    risk = 0.0 if stated.risk is None else 100.0 * stated.risk
    values = {"guard": say.figure(stated.guard_s, 1), "risk": say.figure(risk, 1)}
    yield Rows(
        (
            (say("specification"), say.text(stated.specification)),
            (say("limit"), limit_said(say, stated.at_least_s, stated.at_most_s)),
            (say("rule"), say(f"rule-{stated.rule}", **values)),
            (say("agreed"), say.day(stated.agreed_on)),
            (say("covers"), say("covers-said", sample=say.text(given.item.sample, 60))),
            (say("outcome"), say(f"outcome-{stated.outcome}")),
        )
    )
