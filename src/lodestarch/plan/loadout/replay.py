"""A recorded cargo, played again event by event, as it looked at the time."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from lodestarch.plan.loadout.cargo import Cargo, Sublot
from lodestarch.plan.loadout.forecast import forecast, rest_of
from lodestarch.plan.loadout.running import Running, running

__all__ = ["Event", "Moment", "replay"]


@dataclass(frozen=True, slots=True)
class Event:
    """A sublot loaded, or a result that came in.

    Parameters
    ----------
    what : str
        ``loaded`` or ``result``.
    number : int
        The sublot.
    tonnes : float or None
        Where loaded. [t]
    shares : mapping of str to float or None
        Where loaded.
    result_s : float or None
        Where a result came in. [s]
    """

    what: Literal["loaded", "result"]
    number: int
    tonnes: float | None = None
    shares: Mapping[str, float] | None = None
    result_s: float | None = None


@dataclass(frozen=True, slots=True)
class Moment:
    """The cargo after an event: the event, figures so far, odds of the end and their error."""

    event: Event
    figures: Running
    odds: float
    error: float


def replay(
    cargo: Cargo, events: Iterable[Event], rest: Mapping[str, float], rng: np.random.Generator
) -> tuple[Moment, ...]:
    """Return the cargo after each event, knowing only what was known then.

    Parameters
    ----------
    cargo : Cargo
        As it was before the first event.
    events : iterable of Event
        In the order in which they happened.
    rest : mapping of str to float
        Recipe for what was still to load.
    rng : numpy.random.Generator
    """
    seed = int(rng.integers(2**63))
    out: list[Moment] = []
    for event in events:
        cargo = replace(cargo, sublots=_after(cargo.sublots, event))
        found = forecast(cargo, rest_of(cargo, rest), np.random.default_rng(seed), 4_000)
        out.append(Moment(event, running(cargo.asked, cargo.sublots)[-1], found.odds, found.error))
    return tuple(out)


def _after(sublots: tuple[Sublot, ...], event: Event) -> tuple[Sublot, ...]:
    if event.what == "loaded":
        return (*sublots, Sublot(event.number, event.tonnes or 0.0, event.shares or {}))
    return tuple(replace(s, result_s=event.result_s) if s.number == event.number else s for s in sublots)
