"""An allocation in words: the proof, what holds it back, what would have to give way."""

from __future__ import annotations

from collections.abc import Iterable

from lodestarch.plan.allocate.answer import Allocation, Binding
from lodestarch.plan.allocate.problem import FN, Excluded
from lodestarch.plan.allocate.relax import Relaxation
from lodestarch.plan.neutral import Bound
from lodestarch.plan.programme.outer import Ended
from lodestarch.words.catalogues import DEFAULT_LOCALE, term, terms
from lodestarch.words.numbers import figure, number, tidy

__all__ = [
    "binding_text",
    "bound_text",
    "excluded_rows",
    "money_text",
    "proof_text",
    "relaxation_text",
    "seconds_or_dash",
]

_EXACT = 1e-9


def money_text(value: float | None) -> str:
    """Money of a whole plan, without decimals where they say nothing."""
    return number(value, 0 if value is None or abs(value) >= 1000.0 else 2)


def seconds_or_dash(value: float | None) -> str:
    """Whole seconds."""
    return number(value) if value is None else tidy(f"{number(value)} s")


def proof_text(
    ended: Ended | None, bound: float | None, gap: float | None, locale: str = DEFAULT_LOCALE
) -> str:
    """Say what is proven of a plan, and nothing more.

    Examples
    --------
    >>> proof_text(Ended.OPTIMAL, 100.0, 0.0)
    'Proven: no plan brings more'
    """
    if ended is None:
        return term("allocate.proof.arithmetic", locale)
    if ended is Ended.OPTIMAL and gap is not None and gap <= _EXACT:
        return term("allocate.proof.exact", locale)
    percent = "–" if gap is None else f"{figure(100.0 * gap, 6)} %"
    return tidy(term(f"allocate.proof.{ended.value}", locale, bound=money_text(bound), gap=percent))


def _factor(factor: str | None, locale: str) -> str:
    return terms(locale).get(f"field.{factor}", factor or "")


def binding_text(one: Binding, answer: Allocation, locale: str = DEFAULT_LOCALE) -> str:
    """One thing that holds a plan back, with what more of it would bring where that was solved."""
    worth = answer.tonne_more if one.what == "bin-empty" else answer.second if one.factor == FN else ()
    money = next((w.money for w in worth if w.id == one.id), None)
    values = {"id": one.id, "factor": _factor(one.factor, locale), "stated": figure(one.stated, 2)}
    if one.what in {"bin-empty", "limit"}:
        name = one.what if money is not None else f"{one.what}-bare"
        values |= {"money": number(money, 2), "currency": answer.problem.currency}
        return tidy(term(f"allocate.{name}", locale, **values))
    return tidy(term(f"allocate.{one.what}", locale, **values))


def bound_text(one: Bound, locale: str = DEFAULT_LOCALE) -> str:
    """One limit that holds an instance's answer back."""
    name = "limit-mix" if one.what == "limit" else one.what
    values = {"id": one.id, "factor": _factor(one.factor, locale), "stated": figure(one.stated, 4)}
    return tidy(term(f"allocate.{name}", locale, **values))


def relaxation_text(one: Relaxation, locale: str = DEFAULT_LOCALE) -> str:
    """One thing that would have to give way."""
    values = {"id": one.offer_id, "bin": one.bin_id or "", "amount": figure(one.amount, 2)}
    return tidy(term(f"allocate.relax.{one.kind}", locale, **values))


def excluded_rows(excluded: Iterable[Excluded], locale: str = DEFAULT_LOCALE) -> list[tuple[str, str, str]]:
    """Bin, offers and rule of what is left out, one row a bin and rule."""
    rows: dict[tuple[str, str], list[str]] = {}
    for one in excluded:
        rule = term(f"allocate.rule.{one.rule}", locale)
        said = f"{rule} ({one.source})" if one.source else rule
        if one.value is not None and one.limit is not None:
            said += f": {_factor(one.factor, locale)} {figure(one.value, 2)} > {figure(one.limit, 2)}"
        rows.setdefault((one.bin_id, said), []).append(one.offer_id or term("allocate.excluded-all", locale))
    return [(bin_id, ", ".join(offers), said) for (bin_id, said), offers in rows.items()]
