"""The model: tonnes by bin and cell, on the scale on which blends add.

Columns: x, tonnes from a bin into a cell; T, tonnes in a cell; d, the cell is used; y, the bin is drawn from
for the cell; n, gate steps; u, the bin is drawn from at all. Whole numbers only where the problem needs them.

=====================  =====================================================================
what lies there        for each bin: sum of x is at most tonnes less reserve
contract               for each: sum of T within its tonnage; a bid: that or nothing
one price              sum of d is at most 1; T is at most its tonnage times d
limit                  sum (m - L) x + z sqrt(own + shared + layers + gate + lab) is at most 0
=====================  =====================================================================

Limits are homogeneous in tonnes, so that no large constant is needed: an empty cell keeps them.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from lodestarch.plan.allocate.cells import Cell, cells_of
from lodestarch.plan.allocate.exclude import allowed
from lodestarch.plan.allocate.problem import Excluded, PlanBin, PlanOffer, PlanProblem
from lodestarch.plan.allocate.scale import BinOnScale, Ceiling, bin_on_scale
from lodestarch.plan.programme.programme import INF, Cone, Floats, Programme, Where

__all__ = ["Built", "CellColumns", "build"]


@dataclass(frozen=True, slots=True)
class CellColumns:
    """Columns of one cell: ``bins`` are the places of its bins, ``tonnes`` their columns in that order."""

    offer: int
    cell: Cell
    bins: Where
    tonnes: Where
    total: int
    drawn: Where | None


@dataclass(frozen=True, slots=True)
class Built:
    """A programme with the way back to bins and offers."""

    programme: Programme
    cells: tuple[CellColumns, ...]
    problem: PlanProblem

    def draws(self, x: Floats) -> Floats:
        """Tonnes by bin and offer. [t]"""
        out = np.zeros((len(self.problem.bins), len(self.problem.offers)))
        for c in self.cells:
            out[c.bins, c.offer] += x[c.tonnes]
        return out


class _Builder:
    def __init__(self, problem: PlanProblem, excluded: tuple[Excluded, ...]) -> None:
        self.problem = problem
        self.programme = Programme()
        self.free = np.array([max(b.tonnes - b.reserve_t, 0.0) for b in problem.bins])
        self.open = allowed(problem, excluded)
        self.scales: dict[str, list[BinOnScale | None]] = {}
        self.pinned = {(p.bin_id, p.offer_id) for p in problem.pins}
        self.cells: list[CellColumns] = []
        self.by_bin: dict[int, list[int]] = defaultdict(list)
        self.drawn_by_bin: dict[int, list[int]] = defaultdict(list)

    def scale(self, factor: str) -> list[BinOnScale | None]:
        if factor not in self.scales:
            self.scales[factor] = [bin_on_scale(b, factor, self.problem) for b in self.problem.bins]
        return self.scales[factor]

    def offer(self, index: int, offer: PlanOffer) -> None:
        bins = [
            i for i, b in enumerate(self.problem.bins) if (b.id, offer.id) in self.open and self.free[i] > 0
        ]
        most = min(float(self.free[bins].sum()), INF if offer.most_t is None else offer.most_t)
        cells = cells_of(offer, self.problem, most)
        drawn = self._needs_drawn(offer, bins, cells)
        switched = (
            len(cells) > 1 or (offer.least_t > 0.0 and not offer.is_contract) or offer.most_bins is not None
        )
        made = [self._cell(index, cell, bins, most, drawn=drawn) for cell in cells]
        self.cells += made
        totals = [c.total for c in made]
        p = self.programme
        if switched and made:
            used = p.add_columns(len(made), high=1.0, whole=True)
            p.add_row(used, np.ones(len(made)), high=1.0)
            for c, d in zip(made, used, strict=True):
                p.add_row([c.total, int(d)], [1.0, -most], high=0.0)
                if c.drawn is not None and offer.most_bins is not None:
                    p.add_row(
                        np.append(c.drawn, d),
                        np.append(np.ones(c.drawn.size), -float(offer.most_bins)),
                        high=0.0,
                    )
                if not offer.is_contract and offer.least_t > 0.0:
                    p.add_row([c.total, int(d)], [1.0, -offer.least_t], low=0.0)
        least = offer.least_t if offer.is_contract else 0.0
        p.add_row(totals, np.ones(len(totals)), low=least, high=INF if offer.most_t is None else offer.most_t)
        self._gate_steps(offer, made, bins)
        self._pins(offer, made, bins)

    def _needs_drawn(self, offer: PlanOffer, bins: Sequence[int], cells: Sequence[Cell]) -> bool:
        every = [self.problem.bins[i] for i in bins]
        gate = any(b.gate_error_t > 0.0 for b in every) and any(
            c.z > 0.0 for cell in cells for c in cell.ceilings
        )
        return offer.most_bins is not None or gate or any(b.least_draw_t > 0.0 or b.whole for b in every)

    def _cell(self, index: int, cell: Cell, bins: Sequence[int], most: float, *, drawn: bool) -> CellColumns:
        p = self.programme
        keep = np.array([self.problem.bins[i].keep_price_per_t for i in bins])
        high = np.minimum(self.free[list(bins)], most)
        # A settled draw has to be there; every other one can be left out for a while.
        settled = any(pin.offer_id == self.problem.offers[index].id for pin in self.problem.pins)
        pool = None if settled else np.array(bins, dtype=np.intp)
        # The end of a draw is the whole bin: that is what all draws from it have together.
        free = self.free[list(bins)]
        x = p.add_columns(len(bins), cost=keep - cell.price_per_t, high=free, pool=pool)
        total = p.add_column()
        p.add_row(np.append(x, total), np.append(np.ones(x.size), -1.0), 0.0, 0.0)
        y = p.add_columns(len(bins), high=1.0, whole=True) if drawn else None
        for k, i in enumerate(bins):
            self.by_bin[i].append(int(x[k]))
            if y is not None:
                self.drawn_by_bin[i].append(int(y[k]))
                self._one_draw(self.problem.bins[i], int(x[k]), int(y[k]), float(high[k]))
        made = CellColumns(index, cell, np.array(bins, dtype=np.intp), x, total, y)
        for ceiling in cell.ceilings:
            self._limit(made, ceiling)
        return made

    def _one_draw(self, one: PlanBin, x: int, y: int, high: float) -> None:
        if one.whole:
            self.programme.add_row([x, y], [1.0, -one.tonnes], 0.0, 0.0)
            return
        self.programme.add_row([x, y], [1.0, -high], high=0.0)
        if one.least_draw_t > 0.0:
            self.programme.add_row([x, y], [1.0, -one.least_draw_t], low=0.0)

    def _limit(self, made: CellColumns, ceiling: Ceiling) -> None:
        """One limit of a cell: bins that were not measured have been left out before."""
        every = self.scale(ceiling.factor)
        known = [(k, v) for k, i in enumerate(made.bins) if (v := every[i]) is not None]
        if not known:
            return
        at = made.tonnes[[k for k, _ in known]]
        linear = np.array([ceiling.sign * (v.value - ceiling.limit) for _, v in known])
        p = self.programme
        if ceiling.z <= 0.0:
            p.add_row(at, linear, high=0.0)
            return
        columns, spread = list(at), [float(np.hypot(v.own, v.layered)) for _, v in known]
        if made.drawn is not None:
            gates = [self.problem.bins[made.bins[k]].gate_error_t for k, _ in known]
            columns += list(made.drawn[[k for k, _ in known]])
            spread += [g * abs(v) for g, v in zip(gates, linear, strict=True)]
        apart = 0  # what all tonnes of the cell share comes last: each weighs much by itself
        if any(v.shared > 0.0 for _, v in known):
            common = p.add_column()
            p.add_row(np.append(at, common), np.array([*(v.shared for _, v in known), -1.0]), 0.0, 0.0)
            columns, spread, apart = [*columns, common], [*spread, 1.0], apart + 1
        if ceiling.lab > 0.0:
            columns, spread, apart = [*columns, made.total], [*spread, ceiling.lab], apart + 1
        where = np.array(columns, dtype=np.intp)
        p.add_cone(Cone(at, linear, where, np.array(spread), ceiling.z, 0.0, apart))

    def _gate_steps(self, offer: PlanOffer, made: Sequence[CellColumns], bins: Sequence[int]) -> None:
        for k, i in enumerate(bins):
            step = self.problem.bins[i].gate_step_t
            settled = (self.problem.bins[i].id, offer.id) in self.pinned
            if step is None or settled or self.problem.bins[i].whole:
                continue
            n = self.programme.add_column(whole=True, high=float(np.floor(self.free[i] / step + 1e-9)))
            self.programme.add_row(
                [*(int(c.tonnes[k]) for c in made), n], [*([1.0] * len(made)), -step], 0.0, 0.0
            )

    def _pins(self, offer: PlanOffer, made: Sequence[CellColumns], bins: Sequence[int]) -> None:
        for pin in self.problem.pins:
            if pin.offer_id != offer.id:
                continue
            at = next((k for k, i in enumerate(bins) if self.problem.bins[i].id == pin.bin_id), None)
            columns = [] if at is None else [int(c.tonnes[at]) for c in made]
            self.programme.add_row(columns, [1.0] * len(columns), pin.tonnes, pin.tonnes)

    def bins(self) -> None:
        p, most_used = self.programme, self.problem.most_bins_used
        used = None if most_used is None else p.add_columns(len(self.problem.bins), high=1.0, whole=True)
        for i, one in enumerate(self.problem.bins):
            columns = self.by_bin[i]
            p.constant -= one.keep_price_per_t * one.tonnes
            if not columns:
                continue
            p.add_row(columns, np.ones(len(columns)), high=float(self.free[i]))
            if one.whole and self.drawn_by_bin[i]:
                drawn = self.drawn_by_bin[i]
                p.add_row(drawn, np.ones(len(drawn)), high=1.0)
            if used is not None:
                values = np.append(np.ones(len(columns)), -float(self.free[i]))
                p.add_row([*columns, int(used[i])], values, high=0.0)
        if used is not None and most_used is not None:
            p.add_row(used, np.ones(used.size), high=float(most_used))


def build(problem: PlanProblem, excluded: tuple[Excluded, ...]) -> Built:
    """Build the model of a problem; to minimise: what is earned and kept, with the sign turned."""
    builder = _Builder(problem, excluded)
    for index, offer in enumerate(problem.offers):
        builder.offer(index, offer)
    builder.bins()
    return Built(builder.programme, tuple(builder.cells), problem)
