"""A certificate of test in words: its parts in their order, who released it, and how it is checked."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from lodestarch.words.issued.certificate_parts import (
    conformity_part,
    deviations_part,
    item_part,
    method_part,
    readings_part,
    result_part,
)
from lodestarch.words.issued.names import CustomerNames, LabNames
from lodestarch.words.issued.printable import printable
from lodestarch.words.issued.said import Say
from lodestarch.words.issued.sheet import Banner, Block, Code, Heading, Rows, Sheet, Text
from lodestarch.words.issued.statement import Certificate

__all__ = ["LogMark", "Superseded", "certificate_sheet"]


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
        *result_part(say, given),
        *item_part(say, given, customer),
        *method_part(say, given),
        *readings_part(say, given),
        *deviations_part(say, given),
    ]
    if given.conformity is not None:
        blocks += conformity_part(say, given, given.conformity)
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
