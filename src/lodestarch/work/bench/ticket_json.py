"""A ticket and the bench as JSON; keys as in ``docs/api.md``."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from lodestarch.method.reading import Kind, State
from lodestarch.words.findings import as_json
from lodestarch.work.bench.entered import Entered
from lodestarch.work.bench.state import BenchNow
from lodestarch.work.bench.ticket import TicketInWork

__all__ = ["bench_as_dict", "entered_as_dict", "ticket_as_dict"]

_KIND = {Kind.EXACT: "exact", Kind.AT_OR_BELOW: "at or below", Kind.ABOVE: "above"}
_STATE = {State.STANDS: "stands", State.RUN_AGAIN: "run again", State.SET_ASIDE: "set aside"}


def _reading(row: Mapping[str, Any]) -> dict[str, Any]:
    named = (
        "run",
        "position",
        "bath",
        "seconds",
        "mass_g",
        "moisture_pct",
        "pressure_hpa",
        "set_aside_cause",
    )
    return {
        **{name: row[name] for name in named},
        "set_aside_cause": row["set_aside_cause"],
        "kind": _KIND[Kind(row["kind"])],
        "state": _STATE[State(row["state"])],
        "run_at": None if row["run_at"] is None else row["run_at"].isoformat(),
    }


def _result(row: Mapping[str, Any]) -> dict[str, Any]:
    named = ("status", "seconds", "u_s", "tubes", "agreement", "spread_s", "limit_s", "correction", "profile")
    return {**{name: row[name] for name in named}, "kind": _KIND[Kind(row["kind"] or 0)]}


def ticket_as_dict(ticket: TicketInWork) -> dict[str, Any]:
    """One ticket in work."""
    return {
        "ticket": ticket.name,
        "sample": ticket.sample.key,
        "kind": ticket.sample.kind,
        "whose": ticket.whose,
        "received_at": ticket.sample.received_at,
        "needed_by": ticket.sample.needed_by,
        "station": ticket.station,
        "profile": ticket.profile.name,
        "moisture_pct": ticket.moisture.moisture_pct if ticket.moisture else None,
        "portion": None if ticket.portion is None else asdict(ticket.portion),
        "weighed": [{"position": p.position, "mass_g": p.mass_g} for p in ticket.weighed],
        "in_bath": [
            {"bath": one.bath, "run": one.run, "position": one.position, "lowered_at": one.lowered_at}
            for one in ticket.inside
        ],
        "readings": [_reading(row) for row in ticket.readings],
        "result": None if ticket.result is None else _result(ticket.result),
        "near_step_s": ticket.near_step_s,
        "keeps": list(ticket.keeps),
        "released": ticket.release is not None,
        "findings": [as_json(f) for f in ticket.findings],
    }


def bench_as_dict(bench: BenchNow) -> dict[str, Any]:
    """The bench at one moment."""
    return {
        "at": bench.at.isoformat(),
        "profile": bench.profile,
        "next": asdict(bench.next),
        "baths": [
            {**asdict(b), "lowered_at": None if b.lowered_at is None else b.lowered_at.isoformat()}
            for b in bench.baths
        ],
        "tickets": [ticket_as_dict(t) for t in bench.tickets],
    }


def entered_as_dict(entered: Entered) -> dict[str, Any]:
    """What became of an entry."""
    return {
        "taken": entered.taken,
        "again": entered.again,
        "sample": entered.sample,
        "findings": [as_json(f) for f in entered.findings],
    }
