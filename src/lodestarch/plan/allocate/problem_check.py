"""What is wrong with a problem before it is solved, as findings; one with a *stop* is not solved."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from itertools import chain, combinations

from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.method.liquefaction import LN_OFFSET_S
from lodestarch.method.reading import Kind
from lodestarch.plan.allocate.problem import FN, PlanBin, PlanOffer, PlanProblem, PriceBand
from lodestarch.plan.allocate.scale import bin_fn_s

__all__ = ["check_problem"]


def check_problem(problem: PlanProblem) -> tuple[Finding, ...]:
    """Findings about a problem: numbers that cannot be, contradictions, and what is not stated."""
    return tuple(
        chain(
            _presence(problem),
            _twice("bin", [b.id for b in problem.bins]),
            _twice("offer", [o.id for o in problem.offers]),
            *(_bin(b) for b in problem.bins),
            *(_offer(o) for o in problem.offers),
            _top(problem),
            _pins(problem),
            _stated(problem),
        )
    )


def _presence(problem: PlanProblem) -> Iterator[Finding]:
    if not problem.bins:
        yield Finding("plan-no-bins", Where(field="bin"), Severity.STOP)
    if not problem.offers:
        yield Finding("plan-no-offers", Where(field="contract"), Severity.STOP)


def _twice(kind: str, ids: list[str]) -> Iterator[Finding]:
    for name in dict.fromkeys(i for i in ids if ids.count(i) > 1):
        where = Where(field=f"{kind} {name}")
        yield Finding("plan-id-twice", where, Severity.STOP, {"kind": kind, "id": name})


def _number(
    place: str, key: str, value: float | None, *, above_zero: bool = False, any_sign: bool = False
) -> Iterator[Finding]:
    if value is None:
        return
    where = Where(field=f"{place}, {key}")
    if not math.isfinite(value):
        yield Finding("plan-not-a-number", where, Severity.STOP, {"key": key, "shown": str(value)})
    elif not any_sign and (value < 0.0 or (above_zero and value == 0.0)):
        yield Finding("plan-negative", where, Severity.STOP, {"key": key, "shown": f"{value:g}"})


def _seconds(place: str, key: str, value: float | None) -> Iterator[Finding]:
    yield from _number(place, key, value, any_sign=True)
    if value is not None and math.isfinite(value) and value <= LN_OFFSET_S:
        where = Where(field=f"{place}, {key}")
        yield Finding("plan-seconds-illegal", where, Severity.STOP, {"key": key, "met_s": value})


def _bin(one: PlanBin) -> Iterator[Finding]:
    place = f"bin {one.id}"
    yield from _number(place, "tonnes", one.tonnes, above_zero=True)
    for key in ("reserve_t", "least_draw_t", "gate_error_t", "fn_u_s"):
        yield from _number(place, key, getattr(one, key))
    yield from _number(place, "gate_step_t", one.gate_step_t, above_zero=True)
    yield from _number(place, "keep_price_per_t", one.keep_price_per_t, any_sign=True)
    yield from _seconds(place, "fn_s", one.fn_s)
    for factor, known in one.factors.items():
        yield from _number(place, factor, known.value, any_sign=True)
        yield from _number(place, f"{factor}, u", known.u)
    for i, layer in enumerate(one.layers, 1):
        yield from _number(place, f"layer {i}, tonnes", layer.tonnes, above_zero=True)
        yield from _seconds(place, f"layer {i}, fn_s", layer.fn_s)
        yield from _number(place, f"layer {i}, fn_u_s", layer.fn_u_s)


def _offer(offer: PlanOffer) -> Iterator[Finding]:
    place = f"offer {offer.id}"
    yield from _number(place, "price", offer.price_per_t, any_sign=True)
    for key in ("least_t", "most_t"):
        yield from _number(place, key, getattr(offer, key))
    yield from _number(place, "lab_bias_s", offer.lab.bias_s, any_sign=True)
    for key, value in (("lab_sd_s", offer.lab.sd_s), ("lab_bias_u_s", offer.lab.bias_u_s)):
        yield from _number(place, key, value)
    if offer.most_t is not None and offer.least_t > offer.most_t:
        yield _crossed(place, "least_t, most_t", offer.least_t, offer.most_t)
    if offer.wanted_odds is not None and not 0.5 <= offer.wanted_odds < 1.0:
        values = {"shown": f"{offer.wanted_odds:g}"}
        yield Finding("plan-odds-illegal", Where(field=f"{place}, wanted_odds"), Severity.STOP, values)
    for clause in offer.clauses:
        ends = (("at_least", clause.at_least), ("at_most", clause.at_most))
        for key, value in (*ends, ("sublot_at_least", clause.sublot_at_least)):
            check = _seconds if clause.factor == FN else _plain
            yield from check(place, f"clause {clause.factor}, {key}", value)
        if clause.at_least is not None and clause.at_most is not None and clause.at_least > clause.at_most:
            yield _crossed(place, f"clause {clause.factor}", clause.at_least, clause.at_most)
    yield from _bands(place, offer.bands)


def _plain(place: str, key: str, value: float | None) -> Iterator[Finding]:
    return _number(place, key, value, any_sign=True)


def _crossed(place: str, key: str, low: float, high: float) -> Finding:
    shown = {"key": key, "low": f"{low:g}", "high": f"{high:g}"}
    return Finding("plan-crossed", Where(field=f"{place}, {key}"), Severity.STOP, shown)


def _bands(place: str, bands: Iterable[PriceBand]) -> Iterator[Finding]:
    for one, other in combinations(bands, 2):
        if one.factor != other.factor:
            continue
        low = max(-math.inf if b.low is None else b.low for b in (one, other))
        high = min(math.inf if b.high is None else b.high for b in (one, other))
        if low < high:
            shown = {"key": f"band {one.factor}", "low": f"{low:g}", "high": f"{high:g}"}
            yield Finding("plan-bands-overlap", Where(field=f"{place}, band"), Severity.STOP, shown)
    for band in bands:
        if band.low is not None and band.high is not None and band.low >= band.high:
            yield _crossed(place, f"band {band.factor}", band.low, band.high)


def _top(problem: PlanProblem) -> Iterator[Finding]:
    for key in ("bench_u_s", "law_u_s"):
        yield from _number("plan", key, getattr(problem, key))
    yield from _number("plan", "law_bias_s", problem.law_bias_s, any_sign=True)
    yield from _seconds("plan", "cap_s", problem.cap_s)


def _pins(problem: PlanProblem) -> Iterator[Finding]:
    bins = {b.id: b for b in problem.bins}
    offers = {o.id: o for o in problem.offers}
    for pin in problem.pins:
        place = Where(field=f"draw {pin.bin_id} to {pin.offer_id}")
        if pin.bin_id not in bins or pin.offer_id not in offers:
            unknown = pin.bin_id if pin.bin_id not in bins else pin.offer_id
            yield Finding("plan-pin-unknown", place, Severity.STOP, {"id": unknown})
        yield from _number(f"draw {pin.bin_id} to {pin.offer_id}", "tonnes", pin.tonnes)
    for one in bins.values():
        pinned = sum(p.tonnes for p in problem.pins if p.bin_id == one.id)
        if pinned > one.tonnes - one.reserve_t + 1e-9:
            values = {"id": one.id, "pinned_t": pinned, "free_t": one.tonnes - one.reserve_t}
            yield Finding("plan-pins-too-much", Where(field=f"bin {one.id}"), Severity.STOP, values)


def _stated(problem: PlanProblem) -> Iterator[Finding]:
    """What is not stated and bears on the odds."""
    judged = [o for o in problem.offers if FN in _factors(o)]
    for offer in judged:
        place = Where(field=f"offer {offer.id}")
        if offer.wanted_odds is None:
            yield Finding("plan-odds-not-stated", place, Severity.CHECK, {"id": offer.id})
        if offer.lab.sd_s is None or offer.lab.bias_s is None:
            yield Finding("plan-lab-not-stated", place, Severity.CHECK, {"id": offer.id})
    if not judged:
        return
    floors = {b.id for b in problem.bins if b.fn_says is Kind.AT_OR_BELOW}
    bare = [b.id for b in problem.bins if b.fn_s is not None and b.fn_u_s is None and b.id not in floors]
    bare += [b.id for b in problem.bins if b.fn_s is None and any(y.fn_u_s is None for y in b.layers)]
    if bare:
        yield Finding("plan-u-not-stated", Where(field="bin"), Severity.CHECK, {"ids": ", ".join(bare)})
    if floors:
        ids = ", ".join(b.id for b in problem.bins if b.id in floors)
        yield Finding("plan-at-floor", Where(field="bin"), Severity.CHECK, {"ids": ids})
    untested = [b.id for b in problem.bins if _bin_fn_s(b, problem.cap_s) is None]
    if untested:
        yield Finding("plan-not-tested", Where(field="bin"), Severity.CHECK, {"ids": ", ".join(untested)})
    if problem.own_blends is None and problem.law_u_s == 0.0:
        yield Finding("plan-law-margin-none", Where(field="law_u_s"), Severity.NOTE)


def _factors(offer: PlanOffer) -> set[str]:
    return {c.factor for c in offer.clauses} | {b.factor for b in offer.bands}


def _bin_fn_s(one: PlanBin, cap_s: float | None) -> float | None:
    """Falling number of a bin; ``None`` also where its layers cannot be read."""
    if any(not y.fn_s > LN_OFFSET_S for y in one.layers) or (cap_s is not None and not cap_s > LN_OFFSET_S):
        return one.fn_s
    return bin_fn_s(one, cap_s)
