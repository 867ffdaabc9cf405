"""Plan problems: bins, contracts, bids, settled draws, from one TOML file.

The schema is in ``docs/plan.md``; names are those of a terms file wherever they say the same.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.method.blend import CAP_S
from lodestarch.method.reading import Kind as Says
from lodestarch.plan.allocate.problem import (
    FN,
    DecidingLab,
    Excluded,
    FactorValue,
    Pin,
    PlanBin,
    PlanLayer,
    PlanOffer,
    PlanProblem,
    PriceBand,
)
from lodestarch.sheets.codes import found
from lodestarch.sheets.mapping import parse_toml
from lodestarch.sheets.plan_keys import (
    DRAW,
    EXCLUDE,
    PLAN_BAND,
    PLAN_BID,
    PLAN_BIN,
    PLAN_BUYER,
    PLAN_CLAUSE,
    PLAN_CONTRACT,
    PLAN_LAYER,
    PLAN_TOP,
    PLAN_VERSION,
)
from lodestarch.sheets.terms_entry import Entry, Key, Reporter
from lodestarch.trade.factors import FACTORS
from lodestarch.trade.money_unit import amount_per_tonne, kg_in
from lodestarch.trade.offer import Clause, Judged

__all__ = ["ReadProblem", "read_plan_problem"]

_SAYS = {"exact": Says.EXACT, "at-or-below": Says.AT_OR_BELOW, "above": Says.ABOVE}


@dataclass(frozen=True, slots=True)
class ReadProblem:
    """A plan problem as read; ``None`` where it could not be put at all.

    An entry that cannot be read is a *stop*: a plan without one of its bins or contracts is another plan.
    """

    problem: PlanProblem | None
    findings: tuple[Finding, ...]


def read_plan_problem(data: bytes, name: str) -> ReadProblem:
    """Read a problem; never raises on its content.

    Parameters
    ----------
    data : bytes
        TOML in UTF-8.
    name : str
        File name, for findings.
    """
    tables = parse_toml(data)
    if isinstance(tables, int):
        return ReadProblem(None, (found("terms-unreadable", Where(source=name, row=tables), line=tables),))
    report = Reporter(name)
    top = Entry(report, "plan", "file").read(tables, PLAN_TOP)
    if top.sound and top.number("plan") not in {None, float(PLAN_VERSION)}:
        top.refuse("terms-version-unknown", "plan", value=str(tables["plan"]), wanted=str(PLAN_VERSION))
    currency = top.text("currency")
    if currency is not None and not (len(currency) == 3 and currency.isascii() and currency.isupper()):
        top.refuse("terms-key-type", "currency", value=currency, wanted="ISO 4217")
    if not top.sound or currency is None:
        return ReadProblem(None, tuple(report.findings))
    report.currency = currency
    problem = _problem(top, currency, report)
    stopped = any(f.severity is Severity.STOP for f in report.findings)
    return ReadProblem(None if stopped else problem, tuple(report.findings))


def _entries(top: Entry, kind: str, keys: Iterable[Key], report: Reporter) -> list[Entry]:
    every = []
    for number, raw in enumerate(top.tables(kind), 1):
        label = raw.get("id", raw.get("bin"))
        every.append(Entry(report, kind, label if isinstance(label, str) else f"#{number}").read(raw, keys))
    return every


def _problem(top: Entry, currency: str, report: Reporter) -> PlanProblem:
    labs = {e.id: _lab(e) for e in _entries(top, "buyer", PLAN_BUYER, report)}
    contracts = [
        _offer(e, labs, report, contract=True) for e in _entries(top, "contract", PLAN_CONTRACT, report)
    ]
    bids = [_offer(e, labs, report, contract=False) for e in _entries(top, "bid", PLAN_BID, report)]
    most = top.number("most_bins_used")
    cap = top.number("cap_s")
    return PlanProblem(
        bins=tuple(_bin(e, report) for e in _entries(top, "bin", PLAN_BIN, report)),
        offers=(*contracts, *bids),
        pins=tuple(
            Pin(e.text("bin") or "", e.text("to") or "", _needed(e, "tonnes"))
            for e in _entries(top, "draw", DRAW, report)
        ),
        excluded=tuple(
            Excluded(
                e.text("bin") or "", e.text("to"), "law" if e.text("law") else "asked", e.text("law") or ""
            )
            for e in _entries(top, "exclude", EXCLUDE, report)
        ),
        bench_u_s=top.number("bench_u_s") or 0.0,
        law_u_s=top.number("law_u_s") or 0.0,
        cap_s=(CAP_S if cap is None else cap) if top.flag("capped", default=True) else None,
        most_bins_used=None if most is None else int(most),
        currency=currency,
        jurisdiction=top.text("jurisdiction"),
        title=top.text("title") or "",
    )


def _needed(entry: Entry, key: str) -> float:
    entry.needs(key)
    return entry.number(key) or 0.0


def _lab(entry: Entry) -> DecidingLab:
    return DecidingLab(entry.number("lab_sd_s"), entry.number("lab_bias_s"), entry.number("lab_bias_u_s"))


def _tonnes(entry: Entry, *names: str) -> float | None:
    """The one of several quantities that is stated, in tonnes."""
    for name in names:
        for unit in ("t", "bu"):
            value = entry.number(f"{name}_{unit}")
            if value is not None:
                entry.one_of(f"{name}_t", f"{name}_bu")
                kg = kg_in(unit, entry.text("material"))
                if kg is None:
                    entry.needs("material")
                    return None
                return value * kg / 1000.0
    return None


def _offer(entry: Entry, labs: dict[str, DecidingLab], report: Reporter, *, contract: bool) -> PlanOffer:
    owed = _tonnes(entry, "balance", "quantity") if contract else _tonnes(entry, "quantity")
    least = entry.number("least_t")
    if least is None:
        least = (owed or 0.0) if contract else 0.0
    buyer = entry.text("buyer")
    if buyer is not None and buyer not in labs:
        entry.refuse("terms-id-unknown", "buyer", value=buyer, wanted="buyer")
    most = entry.number("most_bins")
    return PlanOffer(
        id=entry.id,
        price_per_t=_per_tonne(entry, "price") - (entry.number("delivery_cost_per_t") or 0.0),
        least_t=least,
        most_t=owed,
        is_contract=contract,
        clauses=tuple(_clauses(entry, report)),
        bands=tuple(_bands(entry, report)),
        wanted_odds=entry.number("wanted_odds"),
        lab=labs.get(buyer or "", DecidingLab()),
        most_bins=None if most is None else int(most),
        material=entry.text("material"),
        grain_class=entry.text("class"),
        load_t=entry.number("load_t"),
        name=entry.text("name") or "",
    )


def _per_tonne(entry: Entry, key: str) -> float:
    """A price by tonne; one that is not stated, or not by mass, is refused."""
    value, unit = entry.number(key), entry.money("price_unit")
    if value is None or unit is None:
        entry.needs(key)
        entry.needs("price_unit")
        return 0.0
    amount = amount_per_tonne(value, unit, entry.text("material"))
    if amount is None:
        entry.needs("material")
        return 0.0
    return amount


def _inner(entry: Entry, report: Reporter, key: str, keys: Iterable[Key]) -> list[Entry]:
    parts = [
        Entry(report, entry.table, entry.id, f"{key}[{i}].").read(raw, keys)
        for i, raw in enumerate(entry.tables(key), 1)
    ]
    return [p for p in parts if p.sound]


def _clauses(entry: Entry, report: Reporter) -> Iterable[Clause]:
    for part in _inner(entry, report, "clause", PLAN_CLAUSE):
        yield Clause(
            factor=part.text("factor") or FN,
            judged=Judged(part.text("judged") or Judged.COMPOSITE.value),
            at_least=part.number("at_least"),
            at_most=part.number("at_most"),
            sublot_at_least=part.number("sublot_at_least"),
            counts_from=part.number("counts_from"),
            counts_to=part.number("counts_to"),
            sublot_t=part.number("sublot_t"),
            wording=part.text("wording"),
        )


def _bands(entry: Entry, report: Reporter) -> Iterable[PriceBand]:
    unit = entry.money("price_unit")
    for part in _inner(entry, report, "band", PLAN_BAND):
        part.one_of("discount", "premium", "action", required=False)
        discount, premium = part.number("discount"), part.number("premium")
        change: float | None = (
            None if part.text("action") is not None else (premium or 0.0) - (discount or 0.0)
        )
        if change is not None and unit is not None:
            per_t = amount_per_tonne(change, unit, entry.text("material"))
            change = change if per_t is None else per_t
        yield PriceBand(part.text("factor") or FN, part.number("from"), part.number("to"), change)


def _bin(entry: Entry, report: Reporter) -> PlanBin:
    layers = tuple(
        PlanLayer(p.number("tonnes") or 0.0, p.number(FN) or 0.0, p.number("fn_u_s"))
        for p in _inner(entry, report, "layer", PLAN_LAYER)
    )
    tonnes = entry.number("tonnes")
    if tonnes is None and layers:
        tonnes = sum(layer.tonnes for layer in layers)
    if tonnes is None:
        entry.needs("tonnes")
    factors = {
        key: FactorValue(value, entry.number(f"{key}_u"))
        for key in FACTORS
        if key != FN and (value := entry.number(key)) is not None
    }
    return PlanBin(
        id=entry.id,
        tonnes=tonnes or 0.0,
        fn_s=entry.number(FN),
        fn_says=_SAYS[entry.text("fn_says") or "exact"],
        fn_u_s=entry.number("fn_u_s"),
        factors=factors,
        material=entry.text("material"),
        grain_class=entry.text("class"),
        keep_price_per_t=_per_tonne(entry, "keep_price") if entry.number("keep_price") is not None else 0.0,
        reserve_t=entry.number("reserve_t") or 0.0,
        least_draw_t=entry.number("least_draw_t") or 0.0,
        gate_error_t=entry.number("gate_error_t") or 0.0,
        gate_step_t=entry.number("gate_step_t"),
        whole=entry.flag("whole", default=False),
        turned=entry.flag("turned", default=not layers),
        layers=layers,
    )
