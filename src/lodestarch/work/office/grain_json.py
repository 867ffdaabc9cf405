"""Samples on their way as JSON."""

from __future__ import annotations

from dataclasses import asdict
from datetime import date
from typing import Any

from lodestarch.work.office.grain_of import GrainOf
from lodestarch.work.office.retained import Left
from lodestarch.work.office.sent_out import SentOut

__all__ = ["grain_as_dict", "left_as_dict"]


def left_as_dict(left: Left, today: date) -> dict[str, Any]:
    """Grain that is kept; ``due`` tells that it may be discarded."""
    return {
        **asdict(left),
        "retained_on": left.retained_on.isoformat(),
        "destroy_by": None if left.destroy_by is None else left.destroy_by.isoformat(),
        "due": left.is_due(today),
    }


def _sent(sent: SentOut) -> dict[str, Any]:
    return {
        **asdict(sent),
        "at": sent.at.isoformat(),
        "steps": [{**asdict(one), "at": one.at.isoformat()} for one in sent.steps],
        "results": [{**asdict(one), "at": one.at.isoformat()} for one in sent.results],
    }


def grain_as_dict(grain: GrainOf, today: date) -> dict[str, Any]:
    """Everything on the page of one ticket's grain."""
    return {
        "sample": grain.sample.key,
        "ticket": grain.sample.ticket,
        "kind": grain.sample.kind,
        "mass_g": grain.sample.mass_g,
        "parents": [asdict(one) for one in grain.parents],
        "children": [asdict(one) for one in grain.children],
        "retained": [left_as_dict(one, today) for one in grain.left],
        "sent": [_sent(one) for one in grain.sent],
        "files": [asdict(one) for one in grain.files],
    }
