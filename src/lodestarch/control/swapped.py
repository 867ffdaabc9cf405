"""Swapped tubes: two pairs of one run that both disagree, and agree once one tube of each is exchanged.

Exchanging the first tubes and exchanging the second tubes give the same two pairs, with the samples' names
exchanged: the seconds cannot tell which sample is which. So the rule names all four readings and says where
to look; it never says what any of them should be.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
import numpy.typing as npt
import polars as pl

from lodestarch.common.arrays import FloatArray
from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.method.judge import agreement_limit_s
from lodestarch.method.profile import Profile

__all__ = ["NEIGHBOURS", "swapped_tubes"]

NEIGHBOURS: Final = 8
"""How many samples apart in the order of a run two tubes may lie to have been exchanged [1]. A setting of
ours: no run holds more samples, and a sheet that names no runs is still read in steps of this width."""

_Index = npt.NDArray[np.intp]


def _candidates(pairs: pl.DataFrame) -> tuple[_Index, _Index]:
    """Indices of all pairs of samples of one run that lie near each other."""
    run = pairs["run_no"].to_numpy()
    at = pairs["place_in_run"].to_numpy()
    sample = pairs["sample_no"].to_numpy()
    left, right = [], []
    for step in range(1, NEIGHBOURS + 1):
        i = np.arange(len(run) - step) if len(run) > step else np.empty(0, dtype=np.intp)
        j = i + step
        near = (run[i] == run[j]) & (at[j] - at[i] <= NEIGHBOURS) & (sample[i] != sample[j])
        left.append(i[near])
        right.append(j[near])
    return np.concatenate(left), np.concatenate(right)


def _agree(a: FloatArray, b: FloatArray, i: _Index, limits: Sequence[tuple[npt.NDArray[np.bool_], Profile]]
           ) -> npt.NDArray[np.bool_]:  # fmt: skip
    """Whether readings ``a`` and ``b`` agree as a pair under the profile of pair ``i``."""
    mean = (a + b) / 2.0
    limit = np.zeros_like(mean)
    for uses, profile in limits:
        limit = np.where(uses[i], agreement_limit_s(mean, profile.constants), limit)
    return np.asarray(np.abs(a - b) <= limit)


def _swap(pairs: pl.DataFrame, i: int, j: int, *, crossed: bool, source: str | None) -> Finding:
    a, b = pairs.row(i, named=True), pairs.row(j, named=True)
    # straight: the first tubes of both exchanged, or the second ones; crossed: first with second
    partner = {1: 2, 2: 1} if crossed else {1: 1, 2: 2}
    return Finding(
        "tubes-look-swapped",
        Where(
            source=source,
            row=a["row_1"],
            field="seconds",
            ticket=a["ticket"],
            sample=a["sample"],
            run=a["run"],
            position=a["position_1"],
        ),
        Severity.STOP,
        {
            "other_ticket": b["ticket"],
            "other_sample": b["sample"],
            "seconds_1": a["seconds_1"],
            "seconds_2": a["seconds_2"],
            "other_seconds_1": b["seconds_1"],
            "other_seconds_2": b["seconds_2"],
            "position_1": a["position_1"],
            "position_2": a["position_2"],
            "other_position_1": b["position_1"],
            "other_position_2": b["position_2"],
            "with_position_1": b[f"position_{partner[1]}"],
            "with_position_2": b[f"position_{partner[2]}"],
            "rows": ", ".join(str(p[r]) for p in (a, b) for r in ("row_1", "row_2")),
        },
    )


def swapped_tubes(
    pairs: pl.DataFrame, profiles: Sequence[Profile], *, source: str | None = None
) -> tuple[Finding, ...]:
    """Find two samples of one run whose tubes look exchanged.

    Parameters
    ----------
    pairs : polars.DataFrame
        From :func:`lodestarch.control.bench_pairs.tube_pairs`.
    profiles : sequence of Profile
        Those that the pairs name; their agreement limits decide.
    source : str or None
        Name of the bench sheet.

    Returns
    -------
    tuple of Finding
        ``tubes-look-swapped`` (stop) at the first reading of the first of the two samples, only where one
        exchange, and no other one with any sample near by, makes both pairs agree.
    """
    limits = [((pairs["profile"] == p.name).to_numpy(), p) for p in profiles]
    x, y = pairs["seconds_1"].to_numpy(), pairs["seconds_2"].to_numpy()
    apart = np.flatnonzero(~_agree(x, y, np.arange(pairs.height), limits))
    if apart.size < 2:
        return ()
    pairs = pairs.with_columns(pl.int_range(pl.len()).over("run", "bath").alias("place_in_run"))[apart]
    pairs = pairs.with_columns(
        pl.struct("run", "bath").rank("dense").alias("run_no"),
        pl.col("sample").rank("dense").alias("sample_no"),
    )
    sort = np.lexsort((pairs["place_in_run"].to_numpy(), pairs["run_no"].to_numpy()))
    pairs, apart = pairs[sort], apart[sort]
    limits = [(uses[apart], p) for uses, p in limits]
    x, y = x[apart], y[apart]
    i, j = _candidates(pairs)
    straight = _agree(x[j], y[i], i, limits) & _agree(x[i], y[j], j, limits)
    crossed = _agree(y[j], y[i], i, limits) & _agree(x[i], x[j], j, limits)
    explains = straight | crossed
    # Both cannot explain it: the outer two of four readings are further apart than a pair that disagrees.
    i, j, crossed = i[explains], j[explains], crossed[explains]
    times = np.bincount(np.concatenate([i, j]), minlength=pairs.height)
    unique = (times[i] == 1) & (times[j] == 1)
    found = [
        _swap(pairs, int(a), int(b), crossed=bool(c), source=source)
        for a, b, c in zip(i[unique], j[unique], crossed[unique], strict=True)
    ]
    return tuple(sorted(found, key=lambda f: f.where.row or 0))
