"""Which numbers go into which bin: neighbouring ranges, chosen so that mixing within a bin costs least.

Grain is blended up to the limits when it is loaded out. Mixing two loads in a bin costs nothing while a
tonne's worth is a straight line in LN between them; it costs where the line bends, and where it will bend is
not known before the season is over. The ranges are the best cut of the expected grain over such futures.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from lodestarch.plan.receive.envelope import Envelope

__all__ = ["Future", "Held", "Ranges", "best_ranges"]

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Future:
    """One way in which the season may go on.

    Parameters
    ----------
    weight : float
        Probability.
    worth : Envelope
        Of a tonne by its LN in that season. [money/t]
    tonnes : ndarray, shape (q,)
        What is to come at each of the common points. [t]
    """

    weight: float
    worth: Envelope
    tonnes: Array


@dataclass(frozen=True, slots=True)
class Held:
    """A bin as it stands: tonnes, their mean LN, and room. [t], [1], [t]"""

    tonnes: float
    ln: float
    room_t: float


@dataclass(frozen=True, slots=True)
class Ranges:
    """Bins in the order of LN, and where one gives way to the next.

    Parameters
    ----------
    order : tuple of int
        Bins from the lowest LN (soundest) up.
    cuts_ln : ndarray, shape (b - 1,)
        [1]
    mean_ln : ndarray, shape (b,)
        LN that each bin is expected to end with, in this order. [1]
    """

    order: tuple[int, ...]
    cuts_ln: Array
    mean_ln: Array

    def bin_of(self, ln: float) -> int:
        """Return the bin for a load of an expected LN."""
        return self.order[int(np.searchsorted(self.cuts_ln, ln, side="right"))]


def best_ranges(points_ln: Array, held: Sequence[Held], futures: Sequence[Future]) -> Ranges:
    """Return the cut of the grain to come into ranges, one a bin, that loses least.

    Parameters
    ----------
    points_ln : ndarray, shape (q,)
        Rising. [1]
    held : sequence of Held
        Bins as they stand; begun bins keep the order of their means.
    futures : sequence of Future

    Notes
    -----
    Loss of a bin: sum over what it gets of t E(LN) minus T E(mean), E the worth of a tonne; at least 0,
    because E is convex (Jensen). Dynamic programme over cut points and bins, exact on the points; grain
    beyond a bin's room is charged the spread of E, so that it is avoided where it can be.
    """
    order = sorted(range(len(held)), key=lambda i: (held[i].ln if held[i].tonnes > 0 else np.inf, i))
    order = _empties_placed(order, held, points_ln, futures)
    q = points_ln.size
    best = np.full((len(order) + 1, q + 1), np.inf)
    best[0, 0] = 0.0
    source = np.zeros((len(order) + 1, q + 1), dtype=np.intp)
    for b, i in enumerate(order, start=1):
        cost = best[b - 1][:, None] + _loss(points_ln, held[i], futures)
        source[b] = np.argmin(cost, axis=0)
        best[b] = cost[source[b], np.arange(q + 1)]
    ends = [q]
    for b in range(len(order), 0, -1):
        ends.append(int(source[b][ends[-1]]))
    ends.reverse()
    return Ranges(tuple(order), _cuts(points_ln, ends), _means(points_ln, held, order, ends, futures))


def _loss(points: Array, held: Held, futures: Sequence[Future]) -> Array:
    """Loss of giving points a..b-1 to a bin, for every a <= b; infinite elsewhere. Shape (q + 1, q + 1)."""
    q = points.size
    total = np.zeros((q + 1, q + 1))
    for future in futures:
        worth = _at(future.worth, points)
        mass, ln, single = (
            _between(column, held_part)
            for column, held_part in (
                (future.tonnes, held.tonnes),
                (future.tonnes * points, held.tonnes * held.ln),
                (
                    future.tonnes * worth,
                    held.tonnes * float(_at(future.worth, np.array([max(held.ln, 1e-9)]))[0]),
                ),
            )
        )
        mean = ln / np.maximum(mass, 1e-12)
        mixed = mass * _at(future.worth, np.maximum(mean, 1e-9))
        spill = np.maximum(mass - held.tonnes - held.room_t, 0.0) * float(np.ptp(worth))
        total += future.weight * (np.maximum(single - mixed, 0.0) + spill)
    return np.where(np.arange(q + 1)[:, None] <= np.arange(q + 1)[None, :], total, np.inf)


def _between(column: Array, begin: float) -> Array:
    run = np.concatenate([[0.0], np.cumsum(column)])
    return np.asarray(run[None, :] - run[:, None] + begin, dtype=np.float64)


def _at(worth: Envelope, ln: Array) -> Array:
    piece = np.searchsorted(worth.ends, ln, side="right")
    return np.asarray(worth.height[piece] + worth.slope[piece] * ln, dtype=np.float64)


def _empties_placed(
    order: list[int], held: Sequence[Held], points: Array, futures: Sequence[Future]
) -> list[int]:
    """Empty bins stand where most grain is to come, by turns between the bins begun."""
    begun = [i for i in order if held[i].tonnes > 0]
    empty = [i for i in order if held[i].tonnes <= 0]
    if not begun or not empty:
        return order
    tonnes = np.sum([f.weight * f.tonnes for f in futures], axis=0)
    means = [held[i].ln for i in begun]
    placed = list(begun)
    gaps = np.digitize(points, means)
    coming = np.array([tonnes[gaps == g].sum() for g in range(len(begun) + 1)])
    chosen = np.zeros(len(begun) + 1, dtype=np.intp)
    for _ in empty:
        chosen[int(np.argmax(coming / (1 + chosen)))] += 1
    out: list[int] = []
    left = iter(empty)
    for g in range(len(begun) + 1):
        out += [next(left) for _ in range(int(chosen[g]))]
        if g < len(placed):
            out.append(placed[g])
    return out


def _cuts(points: Array, ends: list[int]) -> Array:
    edges = np.concatenate([[points[0] / 2], (points[:-1] + points[1:]) / 2, [points[-1] * 2]])
    return np.maximum.accumulate(edges[ends[1:-1]])


def _means(
    points: Array, held: Sequence[Held], order: list[int], ends: list[int], futures: Sequence[Future]
) -> Array:
    tonnes = np.sum([f.weight * f.tonnes for f in futures], axis=0)
    out = np.zeros(len(order))
    for b, i in enumerate(order):
        part = slice(ends[b], ends[b + 1])
        mass = held[i].tonnes + float(tonnes[part].sum())
        ln = held[i].tonnes * held[i].ln + float(tonnes[part] @ points[part])
        middle = float(points[min(ends[b], points.size - 1)])
        out[b] = ln / mass if mass > 1e-9 else middle
    return out
