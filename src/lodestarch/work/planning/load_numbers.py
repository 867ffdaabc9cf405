"""What is known of the loads: the bench's result where there is one, otherwise the number that was typed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import polars as pl

from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.method.judge import Status
from lodestarch.method.reading import Kind
from lodestarch.records.tables import Load
from lodestarch.records.unit import Unit, View
from lodestarch.work.planning.kept_documents import document_of, documents_of, keep_document

__all__ = [
    "LOAD", "Number", "keep_facts", "load_key", "numbers_of", "sample_numbers", "unknown_load",
]  # fmt: skip

LOAD = "load"
"""Kind of the documents beside the loads."""


def load_key(load: str) -> str:
    """Key of the document beside a load."""
    return f"load/{load}"


@dataclass(frozen=True, slots=True)
class Number:
    """A falling number of a load.

    Parameters
    ----------
    seconds : float
        [s]
    kind : Kind
    u_s : float or None
        Standard uncertainty. [s]
    from_bench : bool
        A result of this bench; otherwise typed where the load was entered.
    comparable_key : str
        Basis and portion of the result.
    """

    seconds: float
    kind: Kind = Kind.EXACT
    u_s: float | None = None
    from_bench: bool = False
    comparable_key: str = ""


def keep_facts(unit: Unit, load: str, at: Any, **facts: Any) -> None:
    """Keep facts of a load beside those that are kept; ``None`` leaves a fact as it is."""
    known = dict(document_of(unit, load_key(load)) or {})
    known |= {name: value for name, value in facts.items() if value is not None}
    keep_document(unit, load_key(load), LOAD, known, at)


def numbers_of(view: View, loads: Iterable[Load]) -> Mapping[str, Number]:
    """Return the numbers of loads by load; those without one are left out."""
    rows = list(loads)
    facts = documents_of(view, LOAD)
    found = {}
    for one in rows:
        typed = facts.get(load_key(one.key), {})
        if typed.get("fn_s") is not None:
            found[one.key] = Number(float(typed["fn_s"]), Kind(typed.get("says", 0)), typed.get("fn_u_s"))
    samples = {one.sample: one.key for one in rows if one.sample is not None}
    for sample, number in sample_numbers(view, sorted(samples)).items():
        found[samples[sample]] = number
    return found


def sample_numbers(view: View, samples: Sequence[str]) -> dict[str, Number]:
    """Return the latest numbers of samples at the bench; held ones and those without one are left out."""
    if not samples:
        return {}
    results = view.in_work(samples).results.filter(
        pl.col("seconds").is_not_null() & (pl.col("status") != Status.HELD.value)
    )
    return {
        row["sample"]: Number(
            row["seconds"],
            Kind.EXACT if row["kind"] is None else Kind(row["kind"]),
            row["u_s"],
            from_bench=True,
            comparable_key=row["comparable_key"] or "",
        )
        for row in results.iter_rows(named=True)
    }


def unknown_load(ticket: str, field: str = "ticket") -> Finding:
    """The finding where no load is kept under a ticket."""
    return Finding("load-unknown", Where(field=field), Severity.STOP, {"ticket": ticket[:40]})
