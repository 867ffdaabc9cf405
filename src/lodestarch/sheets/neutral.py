"""Instances of the neutral layout, read from JSON: one file, many instances, each with its variants.

The layout is described in the file itself under ``layout``; ``docs/plan.md`` says what of it is used.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import Any, Final

from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.plan.allocate.problem import PlanBin, PlanOffer, PlanProblem
from lodestarch.plan.commingle.pooling import Inflow, Pool, Pooling, Product
from lodestarch.plan.mix.least_cost import Ingredient, LeastCostMix, MixLimit
from lodestarch.plan.neutral import Asked, ClauseAsked, ShareAsked
from lodestarch.trade.offer import Clause, Judged

__all__ = ["ReadNeutral", "read_neutral"]

_TYPES: Final = ("pooling", "blend", "share", "allocation", "clause")
_JUDGED: Final = {
    "composite": Judged.COMPOSITE,
    "sublot_average": Judged.WEIGHTED_AVERAGE,
    "no_sublot_under": Judged.EVERY_SUBLOT,
}


@dataclass(frozen=True, slots=True)
class ReadNeutral:
    """One instance as read; ``asked`` is ``None`` where it could not be taken."""

    id: str
    title: str
    type: str | None
    variant: str | None
    sense: str | None
    asked: Asked | None
    findings: tuple[Finding, ...]


class _Missing(Exception):
    """A key that is missing or is not what it has to be."""

    def __init__(self, key: str) -> None:
        self.key = key
        super().__init__(key)


def read_neutral(data: bytes, name: str, instance: str, variant: str | None = None) -> ReadNeutral:
    """Read one instance of a file; never raises on its content.

    Parameters
    ----------
    data : bytes
        JSON in UTF-8.
    name : str
        File name, for findings.
    instance : str
        Its id.
    variant : str, optional
        One of its answers; the first where none is named.
    """
    try:
        body = json.loads(data)
    except (ValueError, RecursionError) as cause:
        told = str(cause).split(":", 1)[0]
        return _refused(
            instance, Finding("plan-file-unreadable", Where(source=name), Severity.STOP, {"cause": told})
        )
    try:
        every = {_text(i, "id"): i for i in _list(body, "instances")}
    except _Missing as cause:
        return _refused(instance, _missing(name, "instances", cause))
    if instance not in every:
        values = {"id": instance, "choices": ", ".join(every)}
        return _refused(instance, Finding("plan-instance-unknown", Where(source=name), Severity.STOP, values))
    return _read(every[instance], name, instance, variant)


def _refused(instance: str, finding: Finding) -> ReadNeutral:
    return ReadNeutral(instance, "", None, None, None, None, (finding,))


def _missing(name: str, place: str, cause: _Missing) -> Finding:
    where = Where(source=name, field=f"{place}, {cause.key}")
    return Finding("plan-key-missing", where, Severity.STOP, {"key": cause.key})


def _read(one: Mapping[str, Any], name: str, instance: str, variant: str | None) -> ReadNeutral:
    title, type_ = str(one.get("title", "")), str(one.get("type", ""))
    if type_ not in _TYPES:
        values = {"id": type_, "choices": ", ".join(_TYPES)}
        return _refused(instance, Finding("plan-instance-type", Where(source=name), Severity.STOP, values))
    answers = [a for a in one.get("answers") or [] if isinstance(a, Mapping)]
    names = [str(a.get("variant")) for a in answers]
    chosen: Mapping[str, Any] = answers[0] if answers else {}
    if variant is not None:
        if variant not in names and not (type_ == "clause" and variant in _JUDGED):
            values = {"id": variant, "choices": ", ".join(names)}
            return _refused(
                instance, Finding("plan-variant-unknown", Where(source=name), Severity.STOP, values)
            )
        chosen = next((a for a in answers if a.get("variant") == variant), {"variant": variant})
    told = None if chosen.get("variant") is None else str(chosen["variant"])
    sense = one.get("sense")
    try:
        asked = _READERS[type_](one, chosen)
    except _Missing as cause:
        return ReadNeutral(instance, title, type_, told, None, None, (_missing(name, instance, cause),))
    return ReadNeutral(instance, title, type_, told, None if sense is None else str(sense), asked, ())


def _list(body: Any, key: str) -> list[Any]:
    value = body.get(key) if isinstance(body, Mapping) else None
    if not isinstance(value, list):
        raise _Missing(key)
    return value


def _text(body: Any, key: str) -> str:
    value = body.get(key) if isinstance(body, Mapping) else None
    if not isinstance(value, str):
        raise _Missing(key)
    return value


def _number(body: Any, key: str) -> float:
    value = _maybe(body, key)
    if value is None:
        raise _Missing(key)
    return value


def _maybe(body: Any, key: str) -> float | None:
    value = body.get(key) if isinstance(body, Mapping) else None
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise _Missing(key)
    return float(value)


def _numbers(body: Any, key: str) -> dict[str, float]:
    value = body.get(key) if isinstance(body, Mapping) else None
    if not isinstance(value, Mapping):
        raise _Missing(key)
    return {str(k): _number(value, k) for k in value}


def _bounds(body: Any, key: str) -> dict[str, float]:
    """Limits by name; ``null`` is none."""
    value = body.get(key) if isinstance(body, Mapping) else None
    if value is None:
        return {}
    if not isinstance(value, Mapping):
        raise _Missing(key)
    return {str(k): v for k in value if (v := _maybe(value, k)) is not None}


def _pooling(one: Mapping[str, Any], _: Mapping[str, Any]) -> Pooling:
    arcs = _list(one, "arcs")
    if not all(isinstance(a, list) and len(a) == 2 and all(isinstance(n, str) for n in a) for a in arcs):
        raise _Missing("arcs")
    return Pooling(
        inputs=tuple(
            Inflow(
                _text(i, "id"), _number(i, "cost"), _maybe(i, "supply_min") or 0.0, _maybe(i, "supply_max"),
                _numbers(i, "quality"),
            )
            for i in _list(one, "inputs")
        ),
        pools=tuple(Pool(_text(p, "id"), _maybe(p, "capacity")) for p in _list(one, "pools")),
        products=tuple(
            Product(
                _text(d, "id"), _number(d, "price"), _maybe(d, "demand_min") or 0.0, _maybe(d, "demand_max"),
                _bounds(d, "quality_max"), _bounds(d, "quality_min"),
            )
            for d in _list(one, "products")
        ),
        arcs=tuple((a[0], a[1]) for a in arcs),
    )  # fmt: skip


def _blend(one: Mapping[str, Any], answer: Mapping[str, Any]) -> LeastCostMix:
    most = _maybe(answer, "max_ingredients")
    most = _maybe(one, "max_ingredients") if most is None else most
    chance = {
        _text(o, "property"): _quantile(o)
        for o in answer.get("overrides") or []
        if isinstance(o, Mapping) and o.get("form") == "chance"
    }
    return LeastCostMix(
        ingredients=tuple(
            Ingredient(_text(i, "id"), _number(i, "cost"), _numbers(i, "mean"), _bounds(i, "variance"))
            for i in _list(one, "ingredients")
        ),
        limits=tuple(_limit(c, chance) for c in _list(one, "constraints")),
        total=_number(one, "total"),
        most_ingredients=None if most is None else int(most),
    )


def _limit(one: Any, chance: Mapping[str, float]) -> MixLimit:
    relation, name = _text(one, "relation"), _text(one, "property")
    if relation not in {">=", "<="}:
        raise _Missing("relation")
    return MixLimit(name, relation == ">=", _number(one, "limit"), chance.get(name, 0.0))


def _quantile(body: Any) -> float:
    z, odds = _maybe(body, "z"), _maybe(body, "probability")
    if z is None and odds is not None and 0.5 <= odds < 1.0:
        z = NormalDist().inv_cdf(odds)
    if z is None or not (math.isfinite(z) and z >= 0.0):
        raise _Missing("z")
    return z


def _share(one: Mapping[str, Any], answer: Mapping[str, Any]) -> ShareAsked:
    cv = _maybe(answer, "cv") or 0.0
    z = _quantile(answer) if cv > 0.0 else 0.0
    return ShareAsked(_number(one, "fn_high"), _number(one, "fn_low"), _number(one, "fn_target"), cv, z)


def _allocation(one: Mapping[str, Any], answer: Mapping[str, Any]) -> PlanProblem:
    whole = answer.get("whole_bins", one.get("whole_bins", False))
    bins = tuple(
        PlanBin(_text(b, "id"), _number(b, "tonnes"), _number(b, "fn"), whole=bool(whole))
        for b in _list(one, "bins")
    )
    offers = tuple(
        PlanOffer(_text(o, "id"), _number(o, "price"), is_contract=False, clauses=_floor(_maybe(o, "fn_min")))
        for o in _list(one, "outlets")
    )
    return PlanProblem(bins, offers, cap_s=None)


def _floor(seconds: float | None) -> tuple[Clause, ...]:
    return () if seconds is None else (Clause("fn_s", Judged.COMPOSITE, seconds, None),)


def _clause(one: Mapping[str, Any], answer: Mapping[str, Any]) -> ClauseAsked:
    judged = _JUDGED.get(str(answer.get("variant", "composite")))
    if judged is None:
        raise _Missing("variant")
    sublots: Sequence[Any] = _list(one, "sublots")
    if any(isinstance(s, bool) or not isinstance(s, (int, float)) for s in sublots):
        raise _Missing("sublots")
    return ClauseAsked(
        Clause("fn_s", judged, _number(one, "fn_limit"), None), tuple(float(s) for s in sublots)
    )


_READERS: Final[dict[str, Callable[[Mapping[str, Any], Mapping[str, Any]], Asked]]] = {
    "pooling": _pooling,
    "blend": _blend,
    "share": _share,
    "allocation": _allocation,
    "clause": _clause,
}
