"""Bins in layers, from the movements in the order in which they were made.

Grain comes in on top and leaves at the gate: from the lowest layer first, until a bin is turned and all of
it is one. That it leaves layer by layer is a simplification of ours; what comes out of a real gate is drawn
from a funnel, so the page says that a layer's number is not yet that of the next truck.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Protocol

__all__ = ["Layer", "Moved", "layers_after", "tonnes_in"]

_DUST_T = 1e-9


class Moved(Protocol):
    """What is needed of a movement."""

    @property
    def kind(self) -> str:
        """``in``, ``move``, ``turn`` or ``out``."""
        ...

    @property
    def tonnes(self) -> float:
        """Moved. [t]"""
        ...

    @property
    def from_bin(self) -> str | None:
        """Where it lay."""
        ...

    @property
    def to_bin(self) -> str | None:
        """Where it lies now."""
        ...

    @property
    def load(self) -> str | None:
        """The delivery, where it came in."""
        ...


@dataclass(frozen=True, slots=True)
class Layer:
    """One filling of a bin.

    Parameters
    ----------
    parts : tuple of (str, float)
        Loads that it is made of, with their tonnes. [t]
    mixed : bool
        Turned, or made of what was turned.
    """

    parts: tuple[tuple[str, float], ...]
    mixed: bool = False

    @property
    def tonnes(self) -> float:
        """What lies in it. [t]"""
        return sum(t for _, t in self.parts)


def tonnes_in(layers: Iterable[Layer]) -> float:
    """Return what lies in some layers. [t]"""
    return sum(layer.tonnes for layer in layers)


def _merged(layers: Iterable[Layer], *, mixed: bool) -> Layer:
    parts: dict[str, float] = {}
    for layer in layers:
        for load, tonnes in layer.parts:
            parts[load] = parts.get(load, 0.0) + tonnes
    return Layer(tuple(parts.items()), mixed)


def _drawn(layers: list[Layer], tonnes: float) -> tuple[list[Layer], list[Layer]]:
    """Split what leaves from what stays, the lowest first."""
    gone, left = [], list(layers)
    while tonnes > _DUST_T and left:
        lowest = left.pop(0)
        share = min(tonnes / lowest.tonnes, 1.0) if lowest.tonnes > 0.0 else 1.0
        gone.append(Layer(tuple((load, t * share) for load, t in lowest.parts), lowest.mixed))
        if share < 1.0:
            left.insert(0, Layer(tuple((load, t * (1.0 - share)) for load, t in lowest.parts), lowest.mixed))
        tonnes -= lowest.tonnes * share
    return gone, left


def layers_after(moves: Iterable[Moved]) -> dict[str, tuple[Layer, ...]]:
    """Return the layers of every bin after some movements, the lowest first.

    Parameters
    ----------
    moves : iterable of Moved
        In the order in which they were made. More than a bin holds never leaves it.

    Examples
    --------
    >>> from types import SimpleNamespace as Move
    >>> def move(kind, tonnes, load=None, to=None, out_of=None):
    ...     return Move(kind=kind, tonnes=tonnes, from_bin=out_of, to_bin=to, load=load)
    >>> after = layers_after(
    ...     [move("in", 20.0, "a", "1"), move("in", 30.0, "b", "1"), move("out", 25.0, None, None, "1")]
    ... )
    >>> [(layer.parts, layer.mixed) for layer in after["1"]]
    [((('b', 25.0),), False)]
    """
    bins: dict[str, list[Layer]] = {}
    for one in moves:
        if one.kind == "turn":
            held = bins.get(one.from_bin or "", [])
            bins[one.from_bin or ""] = [_merged(held, mixed=True)] if held else []
            continue
        arriving = [Layer(((one.load or "", one.tonnes),))] if one.kind == "in" and one.tonnes > 0.0 else []
        if one.from_bin is not None:
            arriving, bins[one.from_bin] = _drawn(bins.get(one.from_bin, []), one.tonnes)
        if one.to_bin is not None and arriving:
            whole = _merged(arriving, mixed=all(layer.mixed for layer in arriving))
            bins.setdefault(one.to_bin, []).append(whole)
    return {name: tuple(layers) for name, layers in bins.items()}
