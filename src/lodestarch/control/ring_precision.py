"""Repeatability and reproducibility of one level of a ring test (ISO 5725-2), with its outlier tests."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from lodestarch.common.arrays import FloatArray
from lodestarch.common.errors import NoAnswer
from lodestarch.control.outlier_tests import (
    cochran,
    cochran_critical,
    grubbs,
    grubbs_critical,
    mandel_h_critical,
    mandel_k_critical,
)

__all__ = ["Cell", "OutlierTest", "RingPrecision", "ring_precision"]


@dataclass(frozen=True, slots=True)
class Cell:
    """One laboratory at one level.

    Parameters
    ----------
    lab : str
    n : int
    mean : float
    sd : float or None
        ``None`` with one result.
    h, k : float or None
        Mandel's statistics. [1]
    """

    lab: str
    n: int
    mean: float
    sd: float | None
    h: float | None
    k: float | None


@dataclass(frozen=True, slots=True)
class OutlierTest:
    """One outlier test.

    Parameters
    ----------
    test : str
        ``cochran``, ``grubbs-high``, ``grubbs-low``.
    lab : str
        Laboratory tested.
    statistic, critical_5pc, critical_1pc : float
        [1]
    verdict : str
        ``inlier``, ``straggler`` (beyond 5 %), ``outlier`` (beyond 1 %).
    """

    test: str
    lab: str
    statistic: float
    critical_5pc: float
    critical_1pc: float
    verdict: str


@dataclass(frozen=True, slots=True)
class RingPrecision:
    """Precision of one level.

    Parameters
    ----------
    p, n : int
        Laboratories and results.
    mean : float
        Mean of all results.
    s_r, s_lab, s_R : float or None
        Repeatability, between-laboratory and reproducibility SD; ``None`` without replicates.
    repeatability, reproducibility : float or None
        Limits 2.8 s_r and 2.8 s_R.
    cells : tuple of Cell
    tests : tuple of OutlierTest
    h_5pc, h_1pc, k_5pc, k_1pc : float or None
        Critical values of Mandel's statistics.
    """

    p: int
    n: int
    mean: float
    s_r: float | None
    s_lab: float | None
    s_R: float | None  # noqa: N815  # the symbol of the standard
    repeatability: float | None
    reproducibility: float | None
    cells: tuple[Cell, ...]
    tests: tuple[OutlierTest, ...]
    h_5pc: float | None
    h_1pc: float | None
    k_5pc: float | None
    k_1pc: float | None


def _variances(cells: list[FloatArray], mean: float) -> tuple[float, float, float] | None:
    """Repeatability, between-laboratory and reproducibility variance for unequal numbers of replicates."""
    n = np.array([c.size for c in cells], dtype=np.float64)
    within_dof = float((n - 1.0).sum())
    if within_dof < 1.0 or n.size < 2:
        return None
    means = np.array([c.mean() for c in cells])
    v_r = sum(float(((c - m) ** 2).sum()) for c, m in zip(cells, means, strict=True)) / within_dof
    v_d = float((n * (means - mean) ** 2).sum()) / (n.size - 1)
    n_bar = (float(n.sum()) - float((n * n).sum()) / float(n.sum())) / (n.size - 1)
    v_lab = max(0.0, (v_d - v_r) / n_bar)
    # s_R below s_r, which the formula can give, is set to s_r: the same as cutting v_lab at 0.
    return v_r, v_lab, v_lab + v_r


def ring_precision(labs: Sequence[str] | npt.ArrayLike, values: npt.ArrayLike) -> RingPrecision:
    """Precision and outlier tests of one level.

    Parameters
    ----------
    labs : array_like of str
        Laboratory of each result.
    values : array_like
        Results, all finite.

    Returns
    -------
    RingPrecision

    Raises
    ------
    NoAnswer
        ``ring-labs-few`` with fewer than two laboratories.

    Notes
    -----
    s_r^2 = sum (n_i - 1)s_i^2/sum (n_i - 1); s_d^2 = sum n_i (ybar_i - m)^2/(p - 1); n_bar = (N - sum
    n_i^2/N)/(p - 1); s_L^2 = max(0, (s_d^2 - s_r^2)/n_bar); s_R^2 = s_L^2 + s_r^2. Values are centred first.
    Cochran's test and Mandel's k take the commonest number of replicates. Grubbs' test is two-sided, on cell
    means.

    References
    ----------
    .. [1] ISO 5725-2; its text was not at hand, formulas recalled and in agreement with its recalled answers.
    """
    name = np.asarray(labs).astype(str).ravel()
    y = np.asarray(values, dtype=np.float64).ravel()
    order, where = np.unique(name, return_inverse=True)
    if order.size < 2:
        raise NoAnswer("ring-labs-few", labs=int(order.size))
    centre = float(y.mean())
    cells = [y[where.ravel() == i] - centre for i in range(order.size)]
    shift = float((y - centre).mean())
    parts = _variances(cells, shift)
    means = np.array([c.mean() for c in cells])
    sd_means = float(means.std(ddof=1))
    s_r = math.sqrt(parts[0]) if parts else None
    rows = tuple(
        Cell(
            str(lab), c.size, centre + float(c.mean()),
            float(c.std(ddof=1)) if c.size > 1 else None,
            (float(c.mean()) - float(means.mean())) / sd_means if sd_means > 0.0 else None,
            float(c.std(ddof=1)) / s_r if s_r and c.size > 1 else None,
        )
        for lab, c in zip(order, cells, strict=True)
    )  # fmt: skip
    p, replicates = order.size, _commonest([c.size for c in cells])
    s_big = math.sqrt(parts[2]) if parts else None
    many = p >= 3
    repeated = replicates >= 2 and s_r is not None
    return RingPrecision(
        p=p,
        n=int(y.size),
        mean=centre + shift,
        s_r=s_r,
        s_lab=math.sqrt(parts[1]) if parts else None,
        s_R=s_big,
        repeatability=None if s_r is None else 2.8 * s_r,
        reproducibility=None if s_big is None else 2.8 * s_big,
        cells=rows,
        tests=(*_cochran_test(rows, replicates), *_grubbs_tests(rows)),
        h_5pc=mandel_h_critical(p, 0.05) if many else None,
        h_1pc=mandel_h_critical(p, 0.01) if many else None,
        k_5pc=mandel_k_critical(p, replicates, 0.05) if repeated else None,
        k_1pc=mandel_k_critical(p, replicates, 0.01) if repeated else None,
    )


def _commonest(sizes: list[int]) -> int:
    """Return the number of replicates that most cells have; the smaller one of a tie."""
    value, count = np.unique(sizes, return_counts=True)
    return int(value[np.argmax(count)])


def _verdict(statistic: float, critical_5pc: float, critical_1pc: float) -> str:
    if statistic > critical_1pc:
        return "outlier"
    return "straggler" if statistic > critical_5pc else "inlier"


def _cochran_test(rows: tuple[Cell, ...], replicates: int) -> tuple[OutlierTest, ...]:
    repeated = [r for r in rows if r.sd is not None]
    found = cochran([(r.sd or 0.0) ** 2 for r in repeated]) if replicates >= 2 else None
    if found is None:
        return ()
    value, at = found
    five, one = (cochran_critical(len(repeated), replicates, a) for a in (0.05, 0.01))
    return (OutlierTest("cochran", repeated[at].lab, value, five, one, _verdict(value, five, one)),)


def _grubbs_tests(rows: tuple[Cell, ...]) -> tuple[OutlierTest, ...]:
    g = grubbs([r.mean for r in rows])
    if g is None:
        return ()
    five, one = (grubbs_critical(len(rows), a, "two") for a in (0.05, 0.01))
    return tuple(
        OutlierTest(f"grubbs-{side}", rows[at].lab, value, five, one, _verdict(value, five, one))
        for side, value, at in (("high", g.high, g.at_high), ("low", g.low, g.at_low))
    )
