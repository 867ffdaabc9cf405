"""The pages of planning as JSON; keys as in ``docs/api.md``."""

from __future__ import annotations

import math
from typing import Any

from lodestarch.method.reading import Kind
from lodestarch.words.receive import rule_sentence
from lodestarch.work.planning.allocate import ProblemOutcome
from lodestarch.work.planning.allocate_json import problem_as_dict
from lodestarch.work.planning.allocation_kept import AllocationKept
from lodestarch.work.planning.bins_kept import BinKept, BinsKept
from lodestarch.work.planning.cargo_kept import CargoNow
from lodestarch.work.planning.load_numbers import Number
from lodestarch.work.planning.probe_kept import ProbeNow
from lodestarch.work.quality.as_json import as_dict

__all__ = ["allocation_as_dict", "bins_as_dict", "cargo_as_dict", "probe_as_dict"]

_SAYS = {Kind.EXACT: "exact", Kind.AT_OR_BELOW: "at or below", Kind.ABOVE: "above"}


def allocation_as_dict(kept: AllocationKept, outcome: ProblemOutcome | None) -> dict[str, Any]:
    """The allocation as it is kept; ``ready`` is false while the solver looks."""
    return {
        "ready": outcome is not None,
        "name": kept.name,
        "settled": [
            {"bin": p.bin_id, "to": p.offer_id, "tonnes": p.tonnes} for p in kept.problem.pins
        ],
        "back": kept.back,
        "forth": kept.forth,
        "time_s": kept.time_s,
        "answer": None if outcome is None else problem_as_dict(outcome),
    }  # fmt: skip


def _number(number: Number | None) -> dict[str, Any] | None:
    if number is None:
        return None
    return {
        "seconds": number.seconds, "says": _SAYS[number.kind], "u_s": number.u_s,
        "from_bench": number.from_bench,
    }  # fmt: skip


def _finite(figures: dict[str, Any] | None) -> dict[str, Any] | None:
    """A queue that grows without end has no number: null."""
    if figures is None:
        return None
    return {k: v if not isinstance(v, float) or math.isfinite(v) else None for k, v in figures.items()}


def probe_as_dict(now: ProbeNow) -> dict[str, Any]:
    """The probe as it stands."""
    answer = now.answer
    return {
        "title": now.kept.site.title,
        "mode": now.kept.mode.value,
        "composite_of": now.kept.composite_of,
        "rule": None if answer.rule is None else rule_sentence(answer.rule, now.kept.site.mode),
        "trucks": [
            {
                "ticket": t.ticket, "tonnes": t.tonnes, "field": t.field, "variety": t.variety,
                "word": None if t.word is None else t.word.value, "bin": t.bin, "number": _number(t.number),
                "at_bench": t.at_bench,
            }
            for t in now.trucks
        ],
        "composites": [
            {"number": c.number, "tickets": list(c.tickets), "wanted": c.wanted, "seconds": c.seconds}
            for c in now.composites
        ],
        "bins": [{**as_dict(b), "holds_t": now.holds_t.get(b.bin)} for b in answer.bins],
        "queue": _finite(as_dict(answer.queue)),
        "came": now.came,
        "tests_left": answer.tests_left,
        "loads_left": answer.loads_left,
    }  # fmt: skip


def cargo_as_dict(now: CargoNow) -> dict[str, Any]:
    """A cargo as it stands; ``bands``: where results of untested sublots will lie."""
    body = as_dict(now.answer)
    body.pop("cargo")
    body.pop("terms")
    sublots = now.answer.cargo.sublots if now.answer.cargo is not None else ()
    return {
        "title": now.kept.terms.title,
        "sublots": as_dict(sublots),
        **body,
        "bands": as_dict(now.bands),
    }


def _bin(one: BinKept) -> dict[str, Any]:
    return {
        "bin": one.id, "capacity_t": one.capacity_t, "tonnes": one.tonnes, "untested_t": one.untested_t,
        "seconds": one.seconds, "says": _SAYS[one.kind], "u_s": one.u_s, "low_s": one.low_s,
        "high_s": one.high_s, "turned": one.turned,
        "layers": [
            {
                "loads": list(v.loads), "tonnes": v.tonnes, "untested_t": v.untested_t, "mixed": v.mixed,
                "seconds": v.seconds, "says": _SAYS[v.kind], "u_s": v.u_s,
            }
            for v in one.layers
        ],
    }  # fmt: skip


def bins_as_dict(kept: BinsKept) -> dict[str, Any]:
    """The bins in layers, the limits of contracts, and the latest movements."""
    return {
        "bins": [_bin(b) for b in kept.bins],
        "limits": [
            {"buyer": m.buyer, "at_least_s": m.at_least_s, "at_most_s": m.at_most_s} for m in kept.limits
        ],
        "movements": [
            {
                "movement": m.key, "kind": m.kind, "at": m.moved_at, "tonnes": m.tonnes, "from": m.from_bin,
                "to": m.to_bin, "load": m.load,
            }
            for m in kept.moves
        ],
    }  # fmt: skip
