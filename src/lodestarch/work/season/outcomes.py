"""Odds that were told against what happened; which field first; what the season says of the next lot."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from lodestarch.common.errors import UnknownName
from lodestarch.common.findings import Finding
from lodestarch.decide.prior import NormalPrior
from lodestarch.season.effects import fit_effects
from lodestarch.season.harvest_order import HarvestOrder, harvest_order
from lodestarch.season.priors import PriorRecord, judge_priors, prior_for
from lodestarch.season.ratings import rate
from lodestarch.season.told_odds import Outcome, ToldRecord, judge_told
from lodestarch.sheets.field_sheet import read_fields
from lodestarch.sheets.outcome_sheet import read_outcomes
from lodestarch.sheets.season_sheet import ROLES, SeasonSheet
from lodestarch.work.season.kept import KeptSeason, outcomes_of

__all__ = [
    "OrderAnswer", "PriorAnswer", "ToldAnswer", "factor_of_role", "order_of", "priors_of", "told_of_file",
    "told_of_records",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class ToldAnswer:
    """Odds told, and what happened."""

    record: ToldRecord
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class PriorAnswer:
    """How priors have done, and the one offered for a lot; ``None`` where the table cannot be read.

    Parameters
    ----------
    record : PriorRecord or None
    lot : mapping of str to str
        What was stated of the lot.
    prior : NormalPrior or None
        ``None``: nothing is offered, odds use a flat prior.
    findings : tuple of Finding
    """

    record: PriorRecord | None
    lot: Mapping[str, str]
    prior: NormalPrior | None
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class OrderAnswer:
    """Fields in their order; ``limit_s`` as asked."""

    order: HarvestOrder
    limit_s: float
    findings: tuple[Finding, ...]


def told_of_file(data: bytes, name: str) -> ToldAnswer:
    """Second tests of a file."""
    sheet = read_outcomes(data, name)
    return _told(sheet.outcomes, name, sheet.findings)


def told_of_records(kept: KeptSeason, limit_s: float) -> ToldAnswer:
    """Retests of the records and what other labs sent back, against one limit."""
    return _told(outcomes_of(kept, limit_s), "records", ())


def _told(outcomes: Sequence[Outcome], source: str, before: tuple[Finding, ...]) -> ToldAnswer:
    record = judge_told(outcomes, source)
    return ToldAnswer(record, (*before, *record.findings))


def factor_of_role(sheet: SeasonSheet, role: str) -> str:
    """The factor of a table that stands for a role (variety, origin); empty where there is none."""
    met = () if sheet.table is None else tuple(f.name for f in sheet.table.factors)
    return next((n for n in ROLES[role] if n in met), "")


def priors_of(sheet: SeasonSheet, lot: Mapping[str, str]) -> PriorAnswer:
    """Judge priors on results not seen, and give the one of a lot.

    Parameters
    ----------
    sheet : SeasonSheet
    lot : mapping of str to str
        Its variety, origin and so on, by factor.

    Raises
    ------
    UnknownName
        When a factor is named that the table does not have.
    """
    if sheet.table is None:
        return PriorAnswer(None, lot, None, sheet.findings)
    met = tuple(f.name for f in sheet.table.factors)
    for name in lot:
        if name not in met:
            raise UnknownName("factor", name, met)
    record = judge_priors(sheet.table)
    fitted = fit_effects(sheet.table, intervals=False)
    prior = prior_for(record, fitted, lot)
    told = (*sheet.findings, *fitted.findings, *record.findings)
    return PriorAnswer(record, lot, prior if isinstance(prior, NormalPrior) else None, told)


def order_of(data: bytes, name: str, sheet: SeasonSheet | None, *, limit_s: float) -> OrderAnswer:
    """Which field first, from its early sample and the rating of its variety.

    Parameters
    ----------
    data, name
        Fields (``sheets.field_sheet``).
    sheet : SeasonSheet or None
        Results that varieties are rated from.
    limit_s : float
        [s]
    """
    read = read_fields(data, name)
    falls, told = _falls(sheet, limit_s)
    fields = [
        replace(f, falls=falls.get(v.casefold())) for f, v in zip(read.fields, read.varieties, strict=True)
    ]
    order = harvest_order(fields, limit_s=limit_s)
    return OrderAnswer(order, limit_s, (*read.findings, *told, *order.findings))


def _falls(sheet: SeasonSheet | None, limit_s: float) -> tuple[dict[str, float], tuple[Finding, ...]]:
    """Chance that a lot of each variety falls below, by the ratings of a table."""
    if sheet is None or sheet.table is None:
        return {}, sheet.findings if sheet is not None else ()
    variety = factor_of_role(sheet, "variety")
    rated = rate(fit_effects(sheet.table, intervals=False), variety or "variety", limit_s=limit_s)
    below = {x.level.casefold(): x.below for x in rated.lines if x.below is not None}
    return below, (*sheet.findings, *rated.findings)
