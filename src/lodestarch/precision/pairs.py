"""Duplicate pairs as arrays: two tubes of one grind, some of them at the floor or stopped early.

Bad rows never stop a fit and never vanish: they become findings, and the rest is used.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from lodestarch.common.arrays import FloatArray
from lodestarch.common.errors import LodestarchError
from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.common.nomenclature import legal_range
from lodestarch.method.reading import Kind

__all__ = ["Pairs", "clean_pairs"]

_NAMED_ROWS: Final = 20
"""Rows named one by one before a summary takes over, so that a broken file does not bury the answer."""

Codes = npt.NDArray[np.int8]


@dataclass(frozen=True, slots=True)
class Pairs:
    """Usable duplicate pairs.

    Parameters
    ----------
    first_s, second_s : ndarray
        Seconds, or the bound where the kind is not exact. [s]
    first_kind, second_kind : ndarray of int8
        ``method.reading.Kind``.
    row : ndarray of int64
        Place of each pair in what was given, from 0.
    given : int
        Rows given.
    findings : tuple of Finding
        What was left out, and why.
    """

    first_s: FloatArray
    second_s: FloatArray
    first_kind: Codes
    second_kind: Codes
    row: npt.NDArray[np.int64]
    given: int
    findings: tuple[Finding, ...] = ()

    @property
    def n(self) -> int:
        """Number of usable pairs."""
        return int(self.first_s.size)

    @property
    def exact(self) -> npt.NDArray[np.bool_]:
        """True where both tubes were read exactly."""
        return np.asarray((self.first_kind == Kind.EXACT) & (self.second_kind == Kind.EXACT))

    @property
    def one_sided(self) -> npt.NDArray[np.bool_]:
        """True where exactly one tube was read exactly: its partner bounds the difference."""
        return np.asarray((self.first_kind == Kind.EXACT) ^ (self.second_kind == Kind.EXACT))

    @property
    def level_s(self) -> FloatArray:
        """Mean of the two stated seconds. [s]"""
        return 0.5 * (self.first_s + self.second_s)

    @property
    def gap_s(self) -> FloatArray:
        """Distance between the two stated seconds. [s]"""
        return np.abs(self.first_s - self.second_s)


def _codes(kind: npt.ArrayLike | None, n: int) -> Codes:
    if kind is None:
        return np.zeros(n, dtype=np.int8)
    codes = np.asarray(kind, dtype=np.int8)
    if codes.shape != (n,):
        raise LodestarchError(f"kinds have shape {codes.shape}, seconds have {n} rows")
    return codes


def _row_findings(
    bad: npt.NDArray[np.bool_], code: str, value_s: FloatArray, names: Sequence[str] | None
) -> list[Finding]:
    """Name the first rows one by one, then count the rest."""
    rows = np.flatnonzero(bad)
    out = [
        Finding(
            code,
            Where(row=int(i) + 1, sample=None if names is None else str(names[i])),
            Severity.STOP,
            {} if np.isnan(value_s[i]) else {"seconds": float(value_s[i])},
        )
        for i in rows[:_NAMED_ROWS]
    ]
    if rows.size > _NAMED_ROWS:
        out.append(
            Finding(f"{code}-more", severity=Severity.STOP, values={"rows": int(rows.size - _NAMED_ROWS)})
        )
    return out


def clean_pairs(
    first_s: npt.ArrayLike,
    second_s: npt.ArrayLike,
    *,
    first_kind: npt.ArrayLike | None = None,
    second_kind: npt.ArrayLike | None = None,
    names: Sequence[str] | None = None,
) -> Pairs:
    """Keep what can be used of given pairs, and say what cannot.

    Parameters
    ----------
    first_s, second_s : array_like
        Seconds of the first and second tube; NaN where there is none. [s]  Legal 60 to 900.
    first_kind, second_kind : array_like of int, optional
        ``method.reading.Kind``: exact, at or below the floor, above the time at which it was stopped.
        Exact when left out.
    names : sequence of str, optional
        Sample names, for the findings.

    Returns
    -------
    Pairs
        Usable pairs with findings ``pair-value-missing`` and ``pair-value-out-of-range`` (*stop* for the
        row), and ``pair-floor-and-stopped`` where one tube is at the floor and its partner was stopped.

    Raises
    ------
    LodestarchError
        When the arrays differ in length.

    Examples
    --------
    >>> pairs = clean_pairs([300, 250, float("nan")], [306, -4, 290])
    >>> pairs.n, [f.code for f in pairs.findings]
    (1, ['pair-value-missing', 'pair-value-out-of-range'])
    """
    one = np.atleast_1d(np.asarray(first_s, dtype=np.float64))
    two = np.atleast_1d(np.asarray(second_s, dtype=np.float64))
    if one.shape != two.shape or one.ndim != 1:
        raise LodestarchError(f"pairs need two columns of one length, got {one.shape} and {two.shape}")
    k1, k2 = _codes(first_kind, one.size), _codes(second_kind, two.size)
    low, high = legal_range("seconds")
    missing = np.isnan(one) | np.isnan(two)
    outside = np.where(~((one >= low) & (one <= high)), one, two)
    illegal = ~missing & ~((one >= low) & (one <= high) & (two >= low) & (two <= high))
    opposed = ~missing & ~illegal & (k1 != Kind.EXACT) & (k2 != Kind.EXACT) & (k1 != k2)
    findings = [
        *_row_findings(missing, "pair-value-missing", np.full(one.size, np.nan), names),
        *_row_findings(illegal, "pair-value-out-of-range", outside, names),
        *_row_findings(opposed, "pair-floor-and-stopped", np.maximum(one, two), names),
    ]
    keep = ~(missing | illegal | opposed)
    return Pairs(
        one[keep],
        two[keep],
        k1[keep],
        k2[keep],
        np.flatnonzero(keep).astype(np.int64),
        int(one.size),
        tuple(findings),
    )
