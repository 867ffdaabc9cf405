"""A certificate of test in words: what it states into the blocks of the paper."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from lodestarch.method.reading import Kind
from lodestarch.words.catalogues import terms
from lodestarch.words.issued.names import CustomerNames, LabNames
from lodestarch.words.issued.printable import printable
from lodestarch.words.issued.rounded_u import rounded_u
from lodestarch.words.issued.said import Say
from lodestarch.words.issued.sheet import (
    Banner,
    Block,
    Bullets,
    Code,
    Column,
    Figure,
    Heading,
    Rows,
    Sheet,
    Table,
    Text,
)
from lodestarch.words.issued.statement import Certificate, Conformity, Deviation, StatedReading, StatedResult

__all__ = [
    "LogMark",
    "Superseded",
    "certificate_sheet",
    "correction_said",
    "limit_said",
    "result_figure",
    "result_said",
]

_SIGN = {Kind.EXACT: "", Kind.AT_OR_BELOW: "≤", Kind.ABOVE: ">"}


@dataclass(frozen=True, slots=True)
class LogMark:
    """Where the log stood before the paper was issued, and the digest of what the paper states."""

    digest: str
    head_seq: int
    head_hash: str


@dataclass(frozen=True, slots=True)
class Superseded:
    """The later paper that took the place of this one."""

    number: str
    day: str


def correction_said(say: Say, correction: str) -> str:
    """Whether a result was corrected for air pressure, and by what."""
    name = f"issued.correction-{correction.replace(' ', '-')}"
    if name in terms(say.locale):
        return say(name)
    return say("issued.correction-named", name=say.text(correction))


def limit_said(say: Say, low: float | None, high: float | None) -> str:
    """A limit in words; empty where there is none."""
    if low is not None and high is not None:
        return say("issued.window", low=say.figure(low), high=say.figure(high))
    if low is not None:
        return say("issued.at-least", seconds=say.figure(low))
    return say("issued.at-most", seconds=say.figure(high)) if high is not None else ""


def tubes_said(say: Say, result: StatedResult) -> str:
    """How many tubes a result rests on."""
    if not result.tubes_stated:
        return say("issued.tubes-not-stated")
    return say("issued.tubes-one") if result.tubes == 1 else say("issued.tubes-many", count=result.tubes)


def basis_said(say: Say, given: Certificate) -> str:
    """The moisture basis of the result."""
    pct = given.method.basis_pct
    if given.result.as_is or pct is None:
        return say("issued.as-is")
    return say("issued.basis", pct=say.figure(pct))


def result_figure(say: Say, given: Certificate) -> Figure:
    """The result in large numerals."""
    result = given.result
    kind = Kind(result.kind)
    quiet = (tubes_said(say, result), basis_said(say, given), correction_said(say, given.method.correction))
    after = say("issued.stopped") if kind is Kind.ABOVE else ""
    return Figure(_SIGN[kind], say.figure(result.seconds, 1), "s", after, " · ".join(quiet))


def result_said(given: Certificate, locale: str) -> str:
    """The result of a certificate in a few signs: ``287 s``, ``≤ 62 s``."""
    say = Say(locale, "certificate")
    figure = result_figure(say, given)
    lead = f"{figure.sign}\u00a0{figure.figure}" if figure.sign else figure.figure
    return f"{lead}\u00a0{figure.unit}" + (f" {figure.after}" if figure.after else "")


def _result(say: Say, given: Certificate) -> Iterator[Block]:
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


def _item(say: Say, given: Certificate, customer: CustomerNames | None) -> Iterator[Block]:
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


def _method(say: Say, given: Certificate) -> Iterator[Block]:
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


def _readings(say: Say, given: Certificate) -> Iterator[Block]:
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
    sign = _SIGN[Kind(one.kind)]
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


def deviation_said(say: Say, one: Deviation) -> str:
    """A deviation in words."""
    name = f"deviation-{one.code}"
    if f"certificate.{name}-one" in terms(say.locale):
        name += "-one" if one.count == 1 else "-many"
    return say(name, count=one.count, value=say.figure(one.value), text=say.text(one.text))


def _deviations(say: Say, given: Certificate) -> Iterator[Block]:
    yield Heading(say("deviations"))
    if given.deviations:
        yield Bullets(tuple(deviation_said(say, d) for d in given.deviations))
    else:
        yield Text(say("deviation-none"))


def _conformity(say: Say, given: Certificate, stated: Conformity) -> Iterator[Block]:
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


def _release(say: Say, given: Certificate, lab: LabNames | None) -> Iterator[Block]:
    gone = say("issued.erased")
    released = gone if lab is None else say.text(lab.released_by)
    issued = gone if lab is None else say.text(lab.issued_by)
    analysts = gone if lab is None else (say("list.comma").join(printable(a, 40) for a in lab.analysts))
    name = "released-by-rule" if given.released.by_rule else "released-by-chemist"
    yield Heading(say("release"))
    yield Rows(
        (
            (say("released"), say(name, at=say.moment(given.released.at), name=released)),
            (say("issued"), say("issued-said", at=say.moment(given.issued_at), name=issued)),
            (say("analysts"), analysts or say("issued.not-stated")),
            (say("outside"), say("outside-none")),
        )
    )
    yield Text(say("only-items"))
    yield Text(say("only-full"))


def _check(say: Say, mark: LogMark) -> Iterator[Block]:
    yield Heading(say("check"))
    yield Text(say("check-how") + " " + say("check-code"), "small")
    before = say("log-before-said", seq=mark.head_seq, head=mark.head_hash[:16])
    groups = " ".join(mark.digest[i : i + 8] for i in range(0, 64, 8))
    yield Rows(((say("digest"), groups), (say("log-before"), before)))


def _superseded(say: Say, later: Superseded) -> str:
    return say("issued.superseded", number=printable(later.number), day=later.day)


def _banners(say: Say, given: Certificate, later: Superseded | None) -> Iterator[Block]:
    if later is not None:
        yield Banner(say("superseded", number=printable(later.number), day=later.day))
    if given.replaces is not None:
        was = given.replaces
        yield Banner(
            say(
                "replaces", number=printable(was.number), day=say.day(was.issued_at),
                reason=say.text(was.reason).rstrip("."), before=printable(was.result_before),
            )
        )  # fmt: skip
    if not given.lab.official:
        yield Banner(say("not-official"))


def certificate_sheet(
    given: Certificate,
    customer: CustomerNames | None,
    lab: LabNames | None,
    mark: LogMark,
    code_svg: str,
    later: Superseded | None = None,
) -> Sheet:
    """Set a certificate in words.

    Parameters
    ----------
    given : Certificate
    customer, lab : CustomerNames, LabNames or None
        ``None`` where they were erased on request.
    mark : LogMark
    code_svg : str
        The code for a scanner.
    later : Superseded or None
        Where a later certificate took its place.

    Returns
    -------
    Sheet
    """
    say = Say(given.locale, "certificate")
    number, sample, day = printable(given.number), say.text(given.item.sample, 60), say.day(given.issued_at)
    blocks: list[Block] = [
        *_banners(say, given, later),
        *_result(say, given),
        *_item(say, given, customer),
        *_method(say, given),
        *_readings(say, given),
        *_deviations(say, given),
    ]
    if given.conformity is not None:
        blocks += _conformity(say, given, given.conformity)
    if given.opinion:
        blocks += [
            Heading(say("opinion")), Text(say.text(given.opinion, 1200)), Text(say("opinion-mark"), "small"),
        ]  # fmt: skip
    blocks += [*_release(say, given, lab), *_check(say, mark)]
    lab_name = printable(given.lab.name, 80)
    contact = printable(given.lab.contact)
    head = (lab_name, *(printable(line, 80) for line in given.lab.address), *([contact] if contact else []))
    return Sheet(
        title=say("title"),
        author=lab_name,
        locale=given.locale,
        paper=given.lab.paper,
        issued_at=given.issued_at,
        running=say("running", number=number, sample=sample, day=day),
        foot=say("issued.foot", lab=printable(given.lab.name, 48), digest=mark.digest[:16]),
        page=say("issued.page", n="{n}", m="{m}"),
        marked=say("issued.demonstration") if given.demonstration else "",
        warned="" if later is None else _superseded(say, later),
        head=head,
        code=Code(code_svg, say("issued.code-alt", number=number), (number,)),
        blocks=tuple(blocks),
        end=say("end", number=number),
    )
