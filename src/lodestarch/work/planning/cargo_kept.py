"""The cargo as it is kept: its terms, its sublots in loading order, and how it stands."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from lodestarch.common.findings import Finding, in_order
from lodestarch.method.liquefaction import LN_NUMERATOR, LN_OFFSET_S
from lodestarch.plan.loadout.cargo import Cargo, Sublot
from lodestarch.plan.loadout.forecast import known
from lodestarch.records.engine import Records
from lodestarch.records.unit import View
from lodestarch.sheets.loadout_cargo import CargoTerms, read_cargo
from lodestarch.work.planning.kept_documents import document_of, documents_of
from lodestarch.work.planning.loadout import LoadoutAnswer, answer_for, replayed

__all__ = [
    "CARGO", "SUBLOT", "CargoKept", "CargoNow", "SublotBand", "bands_of", "cargo_kept", "cargo_now",
    "read_cargo_kept", "sublot_key",
]  # fmt: skip

CARGO: Final = "loadout/cargo"
SUBLOT: Final = "sublot"
_NINE_IN_TEN: Final = 1.645
_LEAST_LN: Final = 1.0
_SEED: Final = 1
"""Of the drawing, so that the same cargo has one answer."""


@dataclass(frozen=True, slots=True)
class CargoKept:
    """The cargo with its terms, before anything is computed.

    Parameters
    ----------
    cargo : Cargo
        With its sublots in loading order.
    terms : CargoTerms
    name : str
        Which cargo, in the keys of its sublots.
    findings : tuple of Finding
    demonstration : bool
    """

    cargo: Cargo
    terms: CargoTerms
    name: str
    findings: tuple[Finding, ...]
    demonstration: bool


@dataclass(frozen=True, slots=True)
class SublotBand:
    """Where the result of a sublot that is not tested will lie nine times in ten. [s]"""

    number: int
    low_s: float
    middle_s: float
    high_s: float


@dataclass(frozen=True, slots=True)
class CargoNow:
    """How the cargo stands, with the bands of what is not tested."""

    kept: CargoKept
    answer: LoadoutAnswer
    bands: tuple[SublotBand, ...]


def sublot_key(cargo: str, number: int) -> str:
    """Key of the document of a sublot."""
    return f"loadout/{cargo}/{number}"


def read_cargo_kept(view: View) -> CargoKept | None:
    """Return the cargo; ``None`` where none is kept."""
    found = document_of(view, CARGO)
    if found is None:
        return None
    read = read_cargo(found["text"].encode(), found["name"])
    if read.cargo is None or read.terms is None:
        return None
    name = str(found["cargo"])
    mine = [d for d in documents_of(view, SUBLOT).values() if d["cargo"] == name]
    sublots = tuple(_sublot(d) for d in sorted(mine, key=lambda d: int(d["order"])) if not d.get("back"))
    return CargoKept(
        replace(read.cargo, sublots=sublots),
        read.terms,
        name,
        read.findings,
        bool(found.get("demonstration")),
    )


def _sublot(document: Mapping[str, Any]) -> Sublot:
    result = document.get("result_s")
    return Sublot(
        int(document["number"]),
        float(document["tonnes"]),
        {str(k): float(v) for k, v in document["shares"].items()},
        None if result is None else float(result),
    )


def cargo_kept(records: Records) -> CargoKept | None:
    """Return the cargo; ``None`` where none is kept."""
    with records.view() as view:
        return read_cargo_kept(view)


def cargo_now(
    kept: CargoKept, make_rng: Any, *, behind: int | None = None, step: int | None = None
) -> CargoNow:
    """Say how a cargo stands.

    Parameters
    ----------
    kept : CargoKept
    make_rng : callable
        Gives a random generator from a seed.
    behind : int, optional
        Play it again, each result so many sublots behind its own.
    step : int, optional
        With ``behind``: how it stood after so many events, from 1.
    """
    cargo = kept.cargo
    if behind is not None and step is not None:
        cargo = replay_at(cargo, behind, step)
    answer = answer_for(cargo, kept.terms, make_rng(_SEED), list(in_order(kept.findings)), kept.name)
    return CargoNow(kept, answer, bands_of(cargo, [*cargo.sublots, *answer.rest]))


def replay_at(cargo: Cargo, behind: int, step: int) -> Cargo:
    """The cargo after so many events of its own history."""
    events = replayed(cargo, behind)[: max(step, 0)]
    loaded = {e.number for e in events if e.what == "loaded"}
    told = {e.number for e in events if e.what == "result"}
    sublots = tuple(
        s if s.number in told else replace(s, result_s=None) for s in cargo.sublots if s.number in loaded
    )
    return replace(cargo, sublots=sublots)


def bands_of(cargo: Cargo, sublots: Sequence[Sublot]) -> tuple[SublotBand, ...]:
    """Where results of untested sublots will lie, from what is known of the bins, the gates and the lab.

    Notes
    -----
    LN of a sublot is normal about the shares of its bins; the lab's own scatter is added in seconds at the
    middle. Nine in ten.
    """
    now = known(cargo)
    out = []
    for one in sublots:
        if one.result_s is not None:
            continue
        shares = [one.shares.get(name, 0.0) for name in now.names]
        mean = sum(s * float(m) for s, m in zip(shares, now.mean, strict=True))
        variance = sum(
            a * b * float(now.cov[i][j]) for i, a in enumerate(shares) for j, b in enumerate(shares)
        ) + sum((s * float(u)) ** 2 for s, u in zip(shares, now.unmixed, strict=True))
        middle = _fn(mean)
        slope = (middle - LN_OFFSET_S) ** 2 / LN_NUMERATOR
        wide = math.sqrt(variance + (cargo.testing.sd_s / slope) ** 2) * _NINE_IN_TEN
        bias = cargo.testing.bias_s
        out.append(SublotBand(one.number, _fn(mean + wide) + bias, middle + bias, _fn(mean - wide) + bias))
    return tuple(out)


def _fn(ln: float) -> float:
    return LN_NUMERATOR / max(ln, _LEAST_LN) + LN_OFFSET_S
