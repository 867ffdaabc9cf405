"""Bins while grain comes in."""

from __future__ import annotations

from dataclasses import dataclass, field

from lodestarch.plan.receive.belief import Belief
from lodestarch.plan.receive.loads import Load
from lodestarch.plan.receive.ranges import Held

__all__ = ["OpenBin", "RoomFull"]


class RoomFull(Exception):
    """No bin has room for the load."""


@dataclass(slots=True)
class OpenBin:
    """One bin: its room and the loads that lie in it."""

    name: str
    capacity_t: float
    loads: list[Load] = field(default_factory=list)
    tonnes: float = 0.0

    def takes(self, load: Load) -> bool:
        """Tell whether a load fits."""
        return self.tonnes + load.tonnes <= self.capacity_t + 1e-9

    def put(self, load: Load) -> None:
        """Put a load in."""
        self.loads.append(load)
        self.tonnes += load.tonnes

    def held(self, belief: Belief) -> Held:
        """Return the bin as it stands on what is known now."""
        ln_tonnes = sum(load.tonnes * belief.seen(load).ln for load in self.loads)
        return Held(
            self.tonnes, ln_tonnes / self.tonnes if self.tonnes else 0.0, self.capacity_t - self.tonnes
        )
