"""Law as data: what may not be sold, what may not be mixed, what a person has to look at first.

A lot that law excludes is left out before anything is averaged. Every answer names its rule, and the rule its
jurisdiction, source, the day on which it was entered, and how far that reading goes.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from functools import lru_cache
from importlib.resources import files
from typing import Any, Final

from lodestarch.common.errors import UnknownName
from lodestarch.common.provenance import Provenance

__all__ = [
    "JURISDICTIONS",
    "LawEffect",
    "LawLot",
    "LawRule",
    "Mixing",
    "Verdict",
    "law_of",
    "law_on_lot",
    "law_on_mix",
    "lots_for_mixing",
]

JURISDICTIONS: Final = ("US", "CA", "EU", "GB", "AU", "other")
"""Whose law a file of terms can name. For some of them no rule is kept: that is no permission."""


class LawEffect(StrEnum):
    """What a rule does."""

    EXCLUDE = "exclude"
    NO_BLEND = "no-blend"
    WARN = "warn"
    FORBID = "forbid"


@dataclass(frozen=True, slots=True)
class LawRule:
    """One rule.

    Parameters
    ----------
    id, jurisdiction : str
        ``any``: wherever.
    effect : LawEffect
    about : str
        ``factor``, ``kinds``, ``added``, ``heat``.
    use : str
        ``food``, ``feed``, ``any``.
    source : str
    entered_on : date
        When it was entered here from that source.
    provenance : Provenance
    factor : str or None
        Key of ``factors.FACTORS``.
    above : float or None
        Values above it are met. [factor's unit]
    materials : tuple of str
        Empty: every grain.
    what, except_for : tuple of str
        What may not be added; for what it may.
    valid_from, valid_to : date or None
    """

    id: str
    jurisdiction: str
    effect: LawEffect
    about: str
    use: str
    source: str
    entered_on: date
    provenance: Provenance
    factor: str | None = None
    above: float | None = None
    materials: tuple[str, ...] = ()
    what: tuple[str, ...] = ()
    except_for: tuple[str, ...] = ()
    valid_from: date | None = None
    valid_to: date | None = None


@dataclass(frozen=True, slots=True)
class LawLot:
    """What law asks of a lot: its kind of grain, its factors, whether it was heated."""

    id: str
    material: str
    factors: Mapping[str, float] = field(default_factory=dict)
    heated: bool = False


@dataclass(frozen=True, slots=True)
class Mixing:
    """What is done in one mixing.

    Parameters
    ----------
    declared_mixed_grain : bool
        The result is sold as mixed grain.
    added : tuple of str
        What is put in: ``dockage``, ``foreign material``, ``dust``, ``water``.
    purpose : str or None
        ``milling``, ``malting``, or another.
    """

    declared_mixed_grain: bool = False
    added: tuple[str, ...] = ()
    purpose: str | None = None


@dataclass(frozen=True, slots=True)
class Verdict:
    """A rule that is met: by which lot (``None``: by the act), and with which value."""

    rule: LawRule
    lot_id: str | None
    value: float | None


@lru_cache(maxsize=1)
def _rules() -> tuple[LawRule, ...]:
    text = files("lodestarch.trade").joinpath("law.toml").read_text("utf-8")
    return tuple(_rule(raw) for raw in tomllib.loads(text)["rule"])


def _rule(raw: Mapping[str, Any]) -> LawRule:
    given: dict[str, Any] = {k: tuple(v) if isinstance(v, list) else v for k, v in raw.items()}
    given["effect"], given["provenance"] = LawEffect(raw["effect"]), Provenance(raw["provenance"])
    return LawRule(**given)


def law_of(jurisdiction: str, on: date | None = None) -> tuple[LawRule, ...]:
    """Return the rules that are kept for a jurisdiction, on a day where one is given.

    Raises
    ------
    UnknownName
        When the jurisdiction is none of :data:`JURISDICTIONS`.

    Examples
    --------
    >>> [r.id for r in law_of("GB")]
    ['gb-don', 'gb-don-durum', 'heat-disclosed']
    """
    if jurisdiction not in JURISDICTIONS:
        raise UnknownName("jurisdiction", jurisdiction, JURISDICTIONS)
    here = (r for r in _rules() if r.jurisdiction in {jurisdiction, "any"})
    return tuple(r for r in here if on is None or _holds(r, on))


def _holds(rule: LawRule, on: date) -> bool:
    return (rule.valid_from is None or rule.valid_from <= on) and (
        rule.valid_to is None or on <= rule.valid_to
    )


def law_on_lot(
    lot: LawLot, jurisdiction: str, use: str = "food", on: date | None = None
) -> tuple[Verdict, ...]:
    """Return the rules that a lot meets by itself: excluded, not to be mixed, to be looked at.

    Parameters
    ----------
    lot : LawLot
        A factor that is not known meets no rule.
    jurisdiction : str
    use : str
        ``food`` or ``feed``.
    on : date, optional
        Rules that hold on that day; the newest ones without it.

    Examples
    --------
    >>> wheat = LawLot("7", "wheat", {"aflatoxin_ug_kg": 24.0})
    >>> [(v.rule.id, v.rule.effect.value) for v in law_on_lot(wheat, "US")]
    [('us-aflatoxin', 'exclude'), ('us-aflatoxin-blend', 'no-blend')]
    """
    rules = [r for r in law_of(jurisdiction, on) if on is not None or r.valid_to is None]
    return tuple(v for r in rules for v in _meets(r, lot, use))


def _meets(rule: LawRule, lot: LawLot, use: str) -> Iterable[Verdict]:
    if rule.use not in {use, "any"} or (rule.materials and lot.material not in rule.materials):
        return
    if rule.about == "heat" and lot.heated:
        yield Verdict(rule, lot.id, None)
    if rule.about != "factor" or rule.factor is None or rule.above is None:
        return
    value = lot.factors.get(rule.factor)
    if value is not None and value > rule.above:
        yield Verdict(rule, lot.id, value)


def law_on_mix(
    lots: Sequence[LawLot],
    jurisdiction: str,
    mixing: Mixing | None = None,
    use: str = "food",
    on: date | None = None,
) -> tuple[Verdict, ...]:
    """Return the rules that mixing these lots meets, those of the lots themselves first.

    Notes
    -----
    A lot by itself meets no rule on mixing.
    """
    done = mixing or Mixing()
    verdicts = [
        v
        for lot in lots
        for v in law_on_lot(lot, jurisdiction, use, on)
        if v.rule.effect is not LawEffect.NO_BLEND or len(lots) > 1
    ]
    kinds = {lot.material for lot in lots}
    for rule in law_of(jurisdiction, on):
        if rule.about == "kinds" and len(kinds) > 1 and not done.declared_mixed_grain:
            verdicts.append(Verdict(rule, None, None))
        if rule.about == "added" and set(done.added) & set(rule.what) and done.purpose not in rule.except_for:
            verdicts.append(Verdict(rule, None, None))
    return tuple(verdicts)


def lots_for_mixing(
    lots: Sequence[LawLot], jurisdiction: str, use: str = "food", on: date | None = None
) -> tuple[tuple[LawLot, ...], tuple[Verdict, ...]]:
    """Return the lots that may enter a mix, before anything is averaged, and why the others may not."""
    barred = [
        v
        for lot in lots
        for v in law_on_lot(lot, jurisdiction, use, on)
        if v.rule.effect in {LawEffect.EXCLUDE, LawEffect.NO_BLEND}
    ]
    out = {v.lot_id for v in barred}
    return tuple(lot for lot in lots if lot.id not in out), tuple(barred)
