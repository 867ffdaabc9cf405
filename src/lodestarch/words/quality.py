"""The bench's own quality in words: laws of scatter, what u rests on, who has a result in doubt."""

from __future__ import annotations

from lodestarch.control.day_hold import DayHold, HeldResult
from lodestarch.control.own_precision import OwnPrecision
from lodestarch.method.scatter import ScatterLaw
from lodestarch.words.catalogues import DEFAULT_LOCALE, term
from lodestarch.words.numbers import DASH, figure, number

__all__ = ["checks_text", "held_row", "hold_sentence", "law_text", "own_sentence"]


def law_text(law: ScatterLaw, locale: str = DEFAULT_LOCALE) -> str:
    """Say a law of scatter in words.

    Examples
    --------
    >>> from lodestarch.method.scatter import DEFAULT_SCATTER
    >>> law_text(DEFAULT_SCATTER)
    'constant CV 2 %'
    """
    p = law.parameters
    percent = law.kind == "constant-cv"
    return term(
        f"quality.law-{law.kind}",
        locale,
        a=figure(round(100.0 * p[0], 2), 2) if percent else figure(float(f"{p[0]:.3g}"), 3),
        b=number(100.0 * p[1], 2) if law.kind == "constant-plus-proportional" else "",
    )


def own_sentence(own: OwnPrecision, locale: str = DEFAULT_LOCALE) -> str:
    """Say what the u of results rests on, with the weight of the stated default."""
    if own.fit is None or own.fit.used == 0:
        return term("quality.own-none", locale, law=law_text(own.law, locale))
    weight = number(100.0 * own.prior_weight, 1)
    return term(
        "quality.own-said", locale, law=law_text(own.law, locale), pairs=own.fit.used, kept=own.kept,
        brought=own.brought, weight=weight,
    )  # fmt: skip


def checks_text(own: OwnPrecision, locale: str = DEFAULT_LOCALE) -> str:
    """Say what check samples add to u."""
    if own.spread is None:
        return term("quality.checks-few", locale)
    s = own.spread
    parts = [("meal", s.meal), ("grain", s.grain)]
    said = [
        term(
            f"quality.checks-{kind}" if part.cv > 0.0 else f"quality.checks-{kind}-nothing", locale,
            cv=number(100.0 * part.cv, 1), checks=part.checks, dof=number(part.dof, 0),
        )
        for kind, part in parts
        if part is not None
    ]  # fmt: skip
    if s.grinding_cv is not None:
        cv, dof = number(100.0 * s.grinding_cv, 1), number(s.grinding_dof, 0)
        said.append(term("quality.checks-grinding", locale, cv=cv, dof=dof))
    return " ".join(said)


def hold_sentence(hold: DayHold, locale: str = DEFAULT_LOCALE) -> str:
    """Say what is held and by which check samples, or by which causes the hold was lifted."""
    if hold.failed:
        checks = ", ".join(hold.failed)
        return term("quality.hold-said", locale, results=len(hold.held), checks=checks, cause=hold.failed[0])
    return "; ".join(term("quality.hold-lifted", locale, check=c, cause=why) for c, why in hold.cleared)


def held_row(one: HeldResult, locale: str = DEFAULT_LOCALE) -> tuple[str, str, str, str, str]:
    """Name, day, checks, who has it, and where the retained sample is."""
    if one.released is None:
        told = term("quality.held-not-out", locale)
    else:
        whom = [
            term("quality.told", locale, who=who or term("quality.told-nobody", locale), how=how)
            for who, how in one.told
        ]
        at = one.released[:16].replace("T", " ")
        told = term("quality.held-out", locale, at=at, whom=", ".join(whom) or DASH)
    retained = one.retained or term("quality.retained-none", locale)
    return (
        one.ticket or one.sample,
        one.day_id or term("quality.this-sheet", locale),
        ", ".join(one.checks),
        told,
        retained,
    )
