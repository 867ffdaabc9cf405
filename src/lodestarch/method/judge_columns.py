"""The columns of one profile's readings as flat arrays, with a group number for each sample."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import polars as pl

from lodestarch.common.arrays import FloatArray
from lodestarch.common.findings import Where

__all__ = ["Columns", "columns_of", "where_of"]


@dataclass(frozen=True, slots=True)
class Columns:
    """Readings of one profile: ``n`` of them in ``groups`` samples.

    ``first`` is the index of the first reading of each group, ``rows`` the number of readings in each, and
    ``run_order`` the rank of a reading's run within its sample, by first appearance.
    """

    n: int
    groups: int
    group: npt.NDArray[np.int64]
    first: npt.NDArray[np.int64]
    rows: npt.NDArray[np.int64]
    run_order: npt.NDArray[np.int64]
    seconds: FloatArray
    kind: npt.NDArray[np.int8]
    moisture_pct: FloatArray
    mass_g: FloatArray
    pressure_hpa: FloatArray
    instrument: npt.NDArray[np.int8]
    """Corrected by the instrument: 1, 0, or -1 where it is not stated."""
    cause: npt.NDArray[np.object_]
    aside: npt.NDArray[np.bool_]
    """Set aside with a cause."""
    position_stated: npt.NDArray[np.bool_]

    def group_mean(self, values: FloatArray) -> FloatArray:
        """Mean of the stated values of each group; NaN where none is stated."""
        stated = ~np.isnan(values)
        total = np.bincount(self.group[stated], weights=values[stated], minlength=self.groups)
        count = np.bincount(self.group[stated], minlength=self.groups)
        with np.errstate(invalid="ignore"):
            return np.asarray(np.where(count > 0, total / np.maximum(count, 1), np.nan))

    def group_any(self, flags: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
        """Whether any reading of each group has the flag."""
        return np.bincount(self.group, weights=flags, minlength=self.groups) > 0

    def group_all(self, flags: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
        """Whether every reading of each group has the flag."""
        return ~self.group_any(~flags)


def columns_of(part: pl.DataFrame) -> Columns:
    """Take the columns of a table of readings (``table.READINGS``) apart."""
    n = part.height
    coded = part.select(
        pl.col("sample").rank("dense").cast(pl.Int64).alias("code"),
        pl.int_range(pl.len()).alias("i"),
        pl.struct("sample", "run").rank("dense").cast(pl.Int64).alias("run_code"),
    )
    # Groups are numbered by first appearance, so that results come in the order of the sheet.
    code = coded["code"].to_numpy() - 1
    _, first, inverse, rows = np.unique(code, return_index=True, return_inverse=True, return_counts=True)
    by_first = np.argsort(first)
    number = np.empty_like(by_first)
    number[by_first] = np.arange(by_first.size)
    run_first = coded.select(pl.col("i").min().over("run_code")).to_series().to_numpy()
    flag = part["corrected_by_instrument"].cast(pl.Int8).fill_null(-1).to_numpy()
    return Columns(
        n=n,
        groups=first.size,
        group=number[inverse].astype(np.int64),
        first=first[by_first].astype(np.int64),
        rows=rows[by_first].astype(np.int64),
        run_order=run_first.astype(np.int64),
        seconds=_floats(part["seconds"]),
        kind=part["kind"].to_numpy().astype(np.int8),
        moisture_pct=_floats(part["moisture_pct"]),
        mass_g=_floats(part["mass_g"]),
        pressure_hpa=_floats(part["pressure_hpa"]),
        instrument=flag.astype(np.int8),
        aside=part["set_aside_cause"].is_not_null().to_numpy(),
        cause=np.array(part["set_aside_cause"].to_list(), dtype=object),
        position_stated=part["position_stated"].fill_null(value=False).to_numpy(),
    )


def _floats(series: pl.Series) -> FloatArray:
    return np.asarray(series.fill_null(np.nan).to_numpy(), dtype=np.float64)


def where_of(part: pl.DataFrame, index: int, field: str | None = None, *, tube: bool = True) -> Where:
    """Place of one reading (``tube``) or of its sample."""
    row = part.row(index, named=True)
    return Where(
        row=row["row"],
        field=field,
        ticket=row["ticket"],
        sample=row["sample"],
        run=row["run"] if tube else None,
        position=row["position"] if tube else None,
    )
