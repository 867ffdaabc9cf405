"""A letter to a grower in words: one page, the number, the picture, what to do next."""

from __future__ import annotations

from collections.abc import Iterator

from lodestarch.method.reading import Kind
from lodestarch.trade.price_points import like_reports
from lodestarch.words.decide import count_of
from lodestarch.words.drawing.dots import DOTS_MM, DotsLook, dots_svg
from lodestarch.words.issued.certificate import LogMark, Superseded
from lodestarch.words.issued.letter_statement import Again, Letter, LetterPrice
from lodestarch.words.issued.names import CustomerNames
from lodestarch.words.issued.printable import printable
from lodestarch.words.issued.result_words import limit_said
from lodestarch.words.issued.said import Say
from lodestarch.words.issued.sheet import Banner, Block, Bullets, Code, Figure, Heading, Picture, Sheet, Text

__all__ = ["letter_sheet"]

_SIGN = {Kind.EXACT: "", Kind.AT_OR_BELOW: "≤", Kind.ABOVE: ">"}
_LINE = 40
"""Signs that the end of a paragraph costs in room."""
_ROOMY, _FULL = 3000, 3650
"""Signs that fit one page in full size, and in the next smaller one; tried out on A4 and Letter."""
_NAME = 60
"""Signs of a name in a letter: it has one page."""


def _basis(say: Say, given: Letter) -> str:
    tubes = say("issued.tubes-one") if given.tubes == 1 else say("issued.tubes-many", count=given.tubes)
    basis = (
        say("issued.as-is")
        if given.basis_pct is None
        else say("issued.basis", pct=say.figure(given.basis_pct))
    )
    return f"{tubes} · {basis}"


def _found(say: Say, given: Letter) -> Iterator[Block]:
    parts = [printable(given.material, _NAME), printable(given.variety, _NAME)]
    if given.tonnes is not None:
        parts.append(f"{say.figure(given.tonnes, 2)}\u00a0t")
    what = say("list.comma").join(p for p in parts if p) or say("issued.not-stated")
    yield Text(say("tested", what=what, day=say.day(given.received_at)))
    kind = Kind(given.kind)
    after = say("issued.stopped") if kind is Kind.ABOVE else ""
    yield Figure(_SIGN[kind], say.figure(given.seconds, 1), "s", after, _basis(say, given))
    yield Text(say("means-number"))
    if kind is Kind.AT_OR_BELOW:
        yield Text(say("floor", seconds=say.figure(given.seconds)))
    elif kind is Kind.ABOVE:
        yield Text(say("above", seconds=say.figure(given.seconds)))


def _chance(say: Say, again: Again) -> str:
    p = again.p or 0.0
    n, of = count_of(max(p, 1.0 - p))
    name = ("chance-there" if again.elsewhere else "chance-here") + ("" if p >= 0.5 else "-not")
    share = 100.0 * max(p, 1.0 - p)
    pct = say.figure(share, 0) if share < 99.5 else say("issued.over-99")
    return say(name, n=n, of=of, rest=of - n, pct=pct)


def _picture(say: Say, given: Letter, again: Again) -> Picture:
    values = like_reports(given.seconds, again.sd_s)
    low = given.limit.at_least_s if given.limit else None
    high = given.limit.at_most_s if given.limit else None
    ends = [e for e in (low, high) if e is not None]
    full = sum((low is None or v >= low) and (high is None or v <= high) for v in values)
    alt = (
        say("picture-alt", full=full, open=len(values) - full)
        if ends
        else say("picture-alt-plain", low=say.figure(min(values), 0), high=say.figure(max(values), 0))
    )
    labels = tuple((e, say("picture-limit", seconds=say.figure(e))) for e in ends)
    svg = dots_svg(values, low, high, DotsLook(say("picture-axis"), labels))
    return Picture(svg, alt, say("picture"), DOTS_MM[1])


def _means(say: Say, given: Letter) -> Iterator[Block]:
    yield Heading(say("means"))
    limit, again = given.limit, given.again
    said = []
    if limit is None:
        said.append(say("no-limit"))
    else:
        words = {
            "whose": printable(limit.whose, _NAME),
            "limit": limit_said(say, limit.at_least_s, limit.at_most_s),
        }
        said.append(say(given.state, **words))
    if again is not None and again.p is not None:
        said.append(_chance(say, again))
    yield Text(" ".join(said), "strong")
    if again is not None:
        yield _picture(say, given, again)
        if limit is not None:
            yield Text(say("picture-key"), "small")


def _next(say: Say, given: Letter) -> Iterator[Block]:
    yield Heading(say("next"))
    items = []
    if given.state in {"under", "over", "too-close"} or given.sprouted:
        items.append(say("next-keep-apart"))
    items.append(say("next-sell"))
    keep = given.keep_until
    items.append(say("next-ask-soon") if keep is None else say("next-ask", day=say.day(keep)))
    if given.state == "too-close":
        items.append(say("next-no-fishing"))
    if given.sprouted:
        items.append(say("next-mould"))
    if given.certificate:
        items.append(say("next-certificate", number=printable(given.certificate)))
    yield Bullets(tuple(items))


def _price(say: Say, one: LetterPrice) -> str:
    values = {
        "buyer": printable(one.buyer, _NAME), "net": say.number(one.net, 2),
        "currency": printable(one.currency, 8), "per": printable(one.per, 8),
    }  # fmt: skip
    if one.p is None:
        return say("price-line", **values)
    n, of = count_of(one.p)
    return say("price-line-p", **values, n=n, of=of)


def _rest(say: Say, given: Letter) -> Iterator[Block]:
    if given.prices:
        yield Heading(say("price"))
        yield Bullets(tuple(_price(say, one) for one in given.prices))
        yield Text(say("price-note", day=say.day(given.terms_as_of)), "small")
    yield Heading(say("cannot"))
    yield Text(" ".join((say("cannot-cause"), say("cannot-load"), say("cannot-toxin"))))
    yield Heading(say("draw"))
    yield Text(say("draw-how"))
    if given.sprouted:
        yield Heading(say("keep"))
        yield Text(say("keep-how"))


def _level(blocks: list[Block]) -> int:
    """How much there is to say: 1 little, 3 much."""
    said = 0
    for block in blocks:
        if isinstance(block, Text | Heading):
            said += len(block.text)
        elif isinstance(block, Bullets):
            said += sum(len(item) + _LINE for item in block.items)
        said += _LINE
    return 1 if said <= _ROOMY else 2 if said <= _FULL else 3


def letter_sheet(
    given: Letter,
    customer: CustomerNames | None,
    mark: LogMark,
    code_svg: str,
    later: Superseded | None = None,
) -> Sheet:
    """Set a letter in words; parameters as :func:`.certificate.certificate_sheet`."""
    say = Say(given.locale, "letter")
    number = printable(given.number)
    name = say("issued.erased") if customer is None else printable(customer.name, _NAME)
    blocks: list[Block] = (
        [Banner(say("issued.superseded", number=printable(later.number), day=later.day))] if later else []
    )
    if name:
        blocks.append(Text(say("for", name=name), "strong"))
    blocks += [*_found(say, given), *_means(say, given), *_next(say, given), *_rest(say, given)]
    ticket = printable(given.ticket, 40)
    title = (
        say("title-load", ticket=ticket) if ticket else say("title-sample", sample=say.text(given.sample, 40))
    )
    lab = printable(given.lab.name, 60)
    contact = printable(given.lab.contact, 80)
    official = () if given.lab.official else (say("not-official"),)
    return Sheet(
        title=title,
        author=lab,
        locale=given.locale,
        paper=given.lab.paper,
        issued_at=given.issued_at,
        running=say(
            "running",
            number=number,
            ticket=ticket or say.text(given.sample, 40),
            day=say.day(given.issued_at),
        ),
        foot=say("issued.foot", lab=printable(given.lab.name, 48), digest=mark.digest[:16]),
        page=say("issued.page", n="{n}", m="{m}"),
        marked=say("issued.demonstration") if given.demonstration else "",
        warned=""
        if later is None
        else say("issued.superseded", number=printable(later.number), day=later.day),
        head=(lab, *([contact] if contact else []), *official),
        code=Code(code_svg, say("issued.code-alt", number=number), (number,)),
        blocks=tuple(blocks),
        end=say("end"),
        compact=_level(blocks),
    )
