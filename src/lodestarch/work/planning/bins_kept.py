"""Bins as they are kept: places, movements, and the layers that follow from them, with their numbers."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from lodestarch.common.errors import LodestarchError
from lodestarch.method.blend import Lot, blend
from lodestarch.method.reading import Kind
from lodestarch.records.engine import Records
from lodestarch.records.tables import Bin, Load, Movement
from lodestarch.records.unit import View
from lodestarch.trade.limits import Limit
from lodestarch.work.bench.choices import limits_read_out
from lodestarch.work.planning.allocation_kept import limits_of_plan
from lodestarch.work.planning.bin_layers import Layer, layers_after, tonnes_in
from lodestarch.work.planning.load_numbers import Number, numbers_of

__all__ = ["BinKept", "BinsKept", "LayerKept", "bins_kept", "moves_in_order", "read_bins"]

_SHOWN_MOVES = 30


@dataclass(frozen=True, slots=True)
class LayerKept:
    """A layer with what is known of it.

    Parameters
    ----------
    loads : tuple of str
        From the largest share down.
    tonnes, untested_t : float
        [t]
    mixed : bool
    seconds : float or None
        Of its tested loads, blended. [s]
    kind : Kind
    u_s : float or None
        Standard uncertainty, where every tested load states one. [s]
    """

    loads: tuple[str, ...]
    tonnes: float
    untested_t: float
    mixed: bool
    seconds: float | None
    kind: Kind
    u_s: float | None


@dataclass(frozen=True, slots=True)
class BinKept:
    """A bin as it stands.

    Parameters
    ----------
    id, name : str
    capacity_t : float or None
    tonnes, untested_t : float
        [t]
    layers : tuple of LayerKept
        The lowest first.
    seconds : float or None
        As if turned. [s]  ``None``: nothing tested, or results of different bases.
    kind : Kind
    low_s, high_s : float or None
        Lowest and highest layer: what can come out of the gate before it is turned. [s]
    u_s : float or None
    comparable : bool
    """

    id: str
    name: str
    capacity_t: float | None
    tonnes: float
    untested_t: float
    layers: tuple[LayerKept, ...]
    seconds: float | None
    kind: Kind
    low_s: float | None
    high_s: float | None
    u_s: float | None
    comparable: bool

    @property
    def turned(self) -> bool:
        """All of it is one layer."""
        return len(self.layers) <= 1


@dataclass(frozen=True, slots=True)
class BinsKept:
    """Everything that the page Bins shows."""

    bins: tuple[BinKept, ...]
    limits: tuple[Limit, ...]
    moves: tuple[Movement, ...]
    """The latest first."""


def moves_in_order(view: View) -> list[Movement]:
    """Return the movements in the order in which they were entered."""
    return sorted(view.all(Movement), key=lambda m: (len(m.key), m.key))


def read_bins(view: View) -> tuple[BinKept, ...]:
    """Return the bins as they stand, in the order of their names."""
    layers = layers_after(moves_in_order(view))
    lying = {load for held in layers.values() for layer in held for load, _ in layer.parts}
    numbers = numbers_of(view, [one for one in view.all(Load) if one.key in lying])
    bins = sorted(view.all(Bin), key=lambda b: (len(b.key), b.key))
    return tuple(_bin(b, layers.get(b.key, ()), numbers) for b in bins if b.in_use)


def bins_kept(records: Records) -> BinsKept:
    """Return the bins, the limits of contracts, and the latest movements."""
    with records.view() as view:
        limits = (*limits_of_plan(view), *limits_read_out(view))
        known = {(one.buyer, one.at_least_s, one.at_most_s): one for one in limits}
        moves = moves_in_order(view)[::-1][:_SHOWN_MOVES]
        return BinsKept(read_bins(view), tuple(known.values()), tuple(moves))


def _bin(row: Bin, layers: Sequence[Layer], numbers: Mapping[str, Number]) -> BinKept:
    known = tuple(_layer(layer, numbers) for layer in layers)
    parts = [part for layer in layers for part in layer.parts]
    mixed = _mix(parts, numbers)
    levels = [layer.seconds for layer in known if layer.seconds is not None]
    return BinKept(
        id=row.key,
        name=row.name,
        capacity_t=row.capacity_t,
        tonnes=tonnes_in(layers),
        untested_t=sum(layer.untested_t for layer in known),
        layers=known,
        seconds=mixed.seconds,
        kind=mixed.kind,
        low_s=min(levels) if levels else None,
        high_s=max(levels) if levels else None,
        u_s=mixed.u_s,
        comparable=mixed.comparable,
    )


def _layer(layer: Layer, numbers: Mapping[str, Number]) -> LayerKept:
    mixed = _mix(layer.parts, numbers)
    loads = sorted(layer.parts, key=lambda part: -part[1])
    return LayerKept(
        tuple(load for load, _ in loads),
        layer.tonnes,
        sum(t for load, t in layer.parts if load not in numbers),
        layer.mixed,
        mixed.seconds,
        mixed.kind,
        mixed.u_s,
    )


@dataclass(frozen=True, slots=True)
class _Mixed:
    seconds: float | None
    kind: Kind = Kind.EXACT
    u_s: float | None = None
    comparable: bool = True


def _mix(parts: Iterable[tuple[str, float]], numbers: Mapping[str, Number]) -> _Mixed:
    """Blend the tested loads; their errors are taken as independent, carried on the LN scale."""
    tested = [(numbers[load], tonnes) for load, tonnes in parts if load in numbers and tonnes > 0.0]
    if not tested:
        return _Mixed(None)
    try:
        mix = blend([Lot(n.seconds, t, n.kind, None, n.comparable_key) for n, t in tested])
    except LodestarchError:
        return _Mixed(None, comparable=False)
    u_s = None
    if all(n.u_s is not None for n, _ in tested):
        total = sum(t for _, t in tested)
        # dLN/dFN = -6000/(FN - 50)^2, and back at the blend's own number.
        back = (mix.seconds_s - 50.0) ** 2
        variance = sum((t / total * back / (n.seconds - 50.0) ** 2 * (n.u_s or 0.0)) ** 2 for n, t in tested)
        u_s = variance**0.5
    return _Mixed(mix.seconds_s, mix.kind, u_s)
