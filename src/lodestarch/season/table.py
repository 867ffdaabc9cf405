"""Results under factors: what every question to the season starts from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt

from lodestarch.common.arrays import FloatArray
from lodestarch.common.errors import LodestarchError, UnknownName
from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.method.reading import Kind
from lodestarch.precision.nesting import Index

__all__ = ["FLOOR_S", "NO_DATE", "Factor", "SeasonTable", "combined", "factor_of", "separable", "table_of"]

FLOOR_S: Final = 62.0
"""At or below this a result says "at or below" [s]. The house's default floor; a setting."""

NO_DATE: Final = np.iinfo(np.int64).min
"""Stands for a missing date among days."""


@dataclass(frozen=True, slots=True)
class Factor:
    """One thing by which results are grouped.

    Parameters
    ----------
    name : str
        Column.
    codes : ndarray of int64
        Level of each result; -1 where it is not stated.
    labels : tuple of str
        Names of the levels.
    """

    name: str
    codes: Index
    labels: tuple[str, ...]

    @property
    def size(self) -> int:
        """Number of levels."""
        return len(self.labels)

    def at(self, rows: npt.NDArray[np.bool_] | Index) -> Factor:
        """The same for some of the rows, levels that nothing is left of taken away."""
        codes = self.codes[rows]
        used, back = np.unique(codes[codes >= 0], return_inverse=True)
        out = np.full(codes.size, -1, dtype=np.int64)
        out[codes >= 0] = back.ravel()
        return Factor(self.name, out, tuple(self.labels[int(i)] for i in used))


@dataclass(frozen=True, slots=True)
class SeasonTable:
    """Results with what they are grouped by.

    Parameters
    ----------
    seconds_s : ndarray
        Falling numbers, floors or stops. [s]
    kind : ndarray of int64
        ``method.reading.Kind`` of each.
    factors : tuple of Factor
    day : ndarray of int64
        Harvest date as days since 1970-01-01; :data:`NO_DATE` where missing.
    row : ndarray of int64
        Row of the sheet.
    source : str
        Sheet or file, for findings.
    """

    seconds_s: FloatArray
    kind: Index
    factors: tuple[Factor, ...]
    day: Index
    row: Index
    source: str = ""

    @property
    def n(self) -> int:
        """Number of results."""
        return int(self.seconds_s.size)

    @property
    def exact(self) -> npt.NDArray[np.bool_]:
        """Which results are exact."""
        return np.asarray(self.kind == Kind.EXACT.value)

    def at(self, rows: npt.NDArray[np.bool_] | Index) -> SeasonTable:
        """Some of the rows."""
        factors = tuple(f.at(rows) for f in self.factors)
        return SeasonTable(
            self.seconds_s[rows], self.kind[rows], factors, self.day[rows], self.row[rows], self.source
        )

    def factor(self, name: str) -> Factor:
        """A factor by its name.

        Raises
        ------
        UnknownName
            When there is none.
        """
        for one in self.factors:
            if one.name == name:
                return one
        raise UnknownName("factor", name, tuple(f.name for f in self.factors))

    def has(self, name: str) -> bool:
        """Whether there is a factor of that name."""
        return any(f.name == name for f in self.factors)

    def with_factors(self, names: Sequence[str]) -> SeasonTable:
        """Only some factors, in the order named; ``a:b`` is the two combined."""
        made = [combined([self.factor(p) for p in n.split(":")]) for n in names]
        return replace(self, factors=tuple(made))


def factor_of(name: str, labels: npt.ArrayLike) -> Factor:
    """Number the levels of a column, in the order of their names; an empty label is not stated.

    Examples
    --------
    >>> f = factor_of("variety", ["B", "A", "", "B"])
    >>> f.codes.tolist(), f.labels
    ([1, 0, -1, 1], ('A', 'B'))
    """
    column = np.asarray(labels, dtype=np.str_).ravel()
    levels, codes = np.unique(column, return_inverse=True)
    codes = codes.ravel().astype(np.int64)
    if levels.size and levels[0] == "":
        return Factor(name, codes - 1, tuple(str(v) for v in levels[1:]))
    return Factor(name, codes, tuple(str(v) for v in levels))


def combined(factors: Sequence[Factor]) -> Factor:
    """Factors taken together: a level for each combination that is met."""
    first = factors[0]
    for other in factors[1:]:
        key = np.where((first.codes < 0) | (other.codes < 0), -1, first.codes * other.size + other.codes)
        used, codes = np.unique(key, return_inverse=True)
        codes = codes.ravel().astype(np.int64)
        if used.size and used[0] < 0:
            used, codes = used[1:], codes - 1
        names = tuple(
            f"{first.labels[int(k) // other.size]}:{other.labels[int(k) % other.size]}" for k in used
        )
        first = Factor(f"{first.name}:{other.name}", codes, names)
    return first


def table_of(
    seconds_s: npt.ArrayLike,
    factors: Sequence[Factor],
    *,
    kind: npt.ArrayLike | None = None,
    day: npt.ArrayLike | None = None,
    row: npt.ArrayLike | None = None,
    floor_s: float | None = FLOOR_S,
    source: str = "",
) -> SeasonTable:
    """Put results together.

    Parameters
    ----------
    seconds_s : array_like
        Falling numbers. [s]
    factors : sequence of Factor
        Each as long.
    kind : array_like of int, optional
        Kind of each; exact where not given.
    day : array_like of int, optional
        Harvest dates as days since 1970-01-01.
    row : array_like of int, optional
        Rows of the sheet; 1, 2, ... where not given.
    floor_s : float or None
        Exact values at or below it count as "at or below"; ``None`` leaves them. [s]
    source : str

    Raises
    ------
    LodestarchError
        When columns differ in length.
    """
    s = np.asarray(seconds_s, dtype=np.float64).ravel()
    kinds = np.zeros(s.size, np.int64) if kind is None else np.array(kind, dtype=np.int64).ravel()
    days = np.full(s.size, NO_DATE) if day is None else np.asarray(day, dtype=np.int64).ravel()
    rows = np.arange(1, s.size + 1) if row is None else np.asarray(row, dtype=np.int64).ravel()
    if any(c.size != s.size for c in (kinds, days, rows, *(f.codes for f in factors))):
        raise LodestarchError(f"{s.size} results beside columns of other lengths")
    if floor_s is not None:
        kinds = np.where((kinds == Kind.EXACT.value) & (s <= floor_s), Kind.AT_OR_BELOW.value, kinds)
    return SeasonTable(s, kinds, tuple(factors), days, rows, source)


def separable(table: SeasonTable) -> tuple[SeasonTable, tuple[Finding, ...]]:
    """Rows and factors that effects can be told from, and why the others cannot.

    Returns
    -------
    table : SeasonTable
        Without rows that lack a value or a level; without factors that tell nothing.
    findings : tuple of Finding
        ``season-level-missing`` (rows left out), ``season-value-missing``, ``season-one-level`` (one level
        only), ``season-level-each-row`` (a level of its own for every result, so that it cannot be told from
        what is left over), ``season-factors-alike`` (two factors say the same), ``season-factor-within``
        (each level of one lies within one level of another).
    """
    where = Where(source=table.source or None)
    found: list[Finding] = []
    good = np.isfinite(table.seconds_s) & (table.seconds_s > 0.0)
    if not good.all():
        found.append(Finding("season-value-missing", where, Severity.CHECK, {"count": int((~good).sum())}))
    kept: list[Factor] = []
    for f in table.factors:
        lacks = int(np.count_nonzero(good & (f.codes < 0)))
        if lacks == int(good.sum()):
            found.append(Finding("season-one-level", where, Severity.CHECK, {"factor": f.name, "levels": 0}))
            continue
        if lacks:
            told = Finding("season-level-missing", where, Severity.CHECK, {"factor": f.name, "count": lacks})
            found.append(told)
        kept.append(f)
    for f in kept:
        good &= f.codes >= 0
    out = replace(table, factors=tuple(kept)).at(good)
    factors: list[Factor] = []
    for f in out.factors:
        if f.size < 2:
            told = Finding("season-one-level", where, Severity.CHECK, {"factor": f.name, "levels": f.size})
            found.append(told)
        elif f.size == out.n:
            told = Finding(
                "season-level-each-row", where, Severity.CHECK, {"factor": f.name, "levels": f.size}
            )
            found.append(told)
        else:
            factors.append(f)
    factors, more = _told_apart(factors, where)
    return replace(out, factors=tuple(factors)), (*found, *more)


def _told_apart(factors: list[Factor], where: Where) -> tuple[list[Factor], list[Finding]]:
    """Factors without those that repeat an earlier one; a note where one lies within another."""
    found: list[Finding] = []
    kept: list[Factor] = []
    for f in factors:
        repeats = False
        for other in kept:
            cells = np.unique(f.codes * other.size + other.codes).size
            if cells == f.size == other.size:
                said: dict[str, Value] = {"factor": f.name, "other": other.name}
                found.append(Finding("season-factors-alike", where, Severity.CHECK, said))
                repeats = True
                break
            if cells in {f.size, other.size}:
                inner, outer = (f, other) if cells == f.size else (other, f)
                said = {"factor": inner.name, "other": outer.name}
                found.append(Finding("season-factor-within", where, Severity.NOTE, said))
        if not repeats:
            kept.append(f)
    return kept, found
