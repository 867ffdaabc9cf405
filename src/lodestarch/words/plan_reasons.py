"""Why a plan is as it is, as sentences: what each blend will do, and what stands beside the plan."""

from __future__ import annotations

from lodestarch.plan.allocate.answer import Allocation
from lodestarch.plan.allocate.blend_value import BlendValue
from lodestarch.plan.allocate.problem import FN, PlanOffer
from lodestarch.words.allocate import money_text
from lodestarch.words.catalogues import DEFAULT_LOCALE, term
from lodestarch.words.numbers import figure, number, tidy

__all__ = [
    "asked_text", "chance_sentence", "fewer_sentence", "lead_sentence", "offer_name", "offer_sentences",
    "thumb_sentences",
]  # fmt: skip

_SURE = 0.95
"""From here a count in ten would round to all of them."""


def offer_name(offer: PlanOffer) -> str:
    """What a contract is called where there is room for it."""
    return offer.name or offer.id


def lead_sentence(answer: Allocation, locale: str = DEFAULT_LOCALE) -> str:
    """Say what the plan brings, and how that compares with the rule of thumb."""
    plan, thumb = answer.plan, answer.thumb
    if plan is None:
        return term("allocate-page.unusable", locale)
    if not plan.stands:
        return term("allocate-page.no-plan", locale)
    values = {"money": money_text(plan.objective), "currency": answer.problem.currency}
    if thumb is None:
        return term("allocate.earns", locale, **values)
    if thumb.breaches:
        return term("allocate-page.behind", locale, count=len(thumb.breaches), **values)
    if thumb.ahead <= 0.5:
        return term("allocate-page.same", locale, **values)
    return term("allocate-page.ahead", locale, ahead=money_text(thumb.ahead), **values)


def chance_sentence(odds: float, locale: str = DEFAULT_LOCALE) -> str:
    r"""Say odds as a count in ten, the likelier side first, with the number in brackets.

    Examples
    --------
    >>> chance_sentence(0.792)
    "8 in 10 blends like this make it at the lab that decides (79\xa0%); 2 don't."
    """
    percent = number(100.0 * odds, 0 if 0.01 <= odds <= 0.99 else 1)
    if odds >= _SURE or odds <= 1.0 - _SURE:
        name = "allocate-page.offer-sure" if odds >= _SURE else "allocate-page.offer-never"
        return tidy(term(name, locale, percent=percent))
    makes = odds >= 0.5
    times = round(10.0 * (odds if makes else 1.0 - odds))
    name = "allocate-page.offer-makes" if makes else "allocate-page.offer-misses"
    return tidy(term(name, locale, times=times, rest=10 - times, percent=percent))


def offer_sentences(
    answer: Allocation, blend: BlendValue, offer: PlanOffer, locale: str = DEFAULT_LOCALE
) -> tuple[str, ...]:
    """Say what one blend is predicted to do, and what to aim at."""
    said = [
        term(
            "allocate-page.offer-alone",
            locale,
            to=offer_name(offer),
            tonnes=figure(blend.tonnes, 1),
            price=number(blend.price_per_t, 2),
            currency=answer.problem.currency,
        )
    ]
    if blend.fn_s is not None:
        said.append(
            term(
                "allocate-page.offer-predicted",
                locale,
                seconds=number(blend.fn_s),
                low=number(blend.fn_low_s),
                high=number(blend.fn_high_s),
            )
        )
    found = next((o for o in answer.odds.offers if o.offer_id == offer.id), None) if answer.odds else None
    if found is not None and blend.limits:
        said.append(chance_sentence(found.passes, locale))
        if offer.wanted_odds is not None:
            wanted = number(100.0 * offer.wanted_odds)
            said.append(term("allocate-page.offer-wanted", locale, wanted=wanted))
    floor = next((v for v in blend.limits if v.factor == FN and v.at_least), None)
    if floor is not None:
        values = {"aim": number(floor.aim), "stop": number(floor.even)}
        said.append(term("allocate-page.offer-aim", locale, **values))
    return tuple(tidy(one) for one in said)


def fewer_sentence(answer: Allocation, locale: str = DEFAULT_LOCALE) -> str | None:
    """Say what the best plan with one bin fewer brings; ``None`` where it was not asked."""
    plan, fewer = answer.plan, answer.fewer
    if plan is None or fewer is None:
        return None
    if fewer.objective is None or plan.objective is None:
        return term("allocate-page.fewer-none", locale)
    values = {
        "money": money_text(fewer.objective),
        "less": money_text(plan.objective - fewer.objective),
        "currency": answer.problem.currency,
        "bins": ", ".join(dict.fromkeys(d.bin_id for d in fewer.draws)),
    }
    return term("allocate-page.fewer", locale, **values)


def thumb_sentences(answer: Allocation, locale: str = DEFAULT_LOCALE) -> tuple[str, ...]:
    """Say the rule of thumb, what it brings, and by how much the plan is ahead."""
    thumb = answer.thumb
    if thumb is None:
        return ()
    said = term(
        "allocate-page.thumb",
        locale,
        money=money_text(thumb.money),
        currency=answer.problem.currency,
        ahead=money_text(thumb.ahead),
        expected=money_text(thumb.ahead_expected),
    )
    if not thumb.breaches:
        return (said,)
    return said, term("allocate-page.thumb-breaks", locale, count=len(thumb.breaches))


def asked_text(offer: PlanOffer, locale: str = DEFAULT_LOCALE) -> str:
    """Say how many tonnes an offer takes."""
    low, high = figure(offer.least_t, 1), figure(offer.most_t, 1)
    if offer.most_t is None:
        return term("allocate-page.asked-least", locale, low=low)
    if offer.least_t <= 0.0:
        return term("allocate-page.asked-most", locale, high=high)
    if offer.least_t >= offer.most_t:
        return f"{high}\u00a0t"
    return term("allocate-page.asked-span", locale, low=low, high=high)
