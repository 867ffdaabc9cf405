"""A local fit of yearly means on one or two predictors fixed beforehand, judged on seasons it has not seen.

It refuses to predict unless its leave-one-season-out error is smaller than that of no model by the stated
margin, and says "not established" and refuses all the same where the gain is less than two standard errors of
itself.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np
import numpy.typing as npt

from lodestarch.common.arrays import FloatArray
from lodestarch.common.errors import LodestarchError
from lodestarch.common.findings import Finding, Severity, Value

__all__ = ["LEAST_SEASONS", "MARGIN", "LocalFit", "Verdict", "local_fit"]

LEAST_SEASONS: Final = 15
"""Seasons or site-years below which nothing is fitted. A rule of the house."""

MARGIN: Final = 0.10
"""Part of the no-model error by which a fit must be better. A setting of the house."""


class Verdict(StrEnum):
    """What may be done with a fit."""

    REFUSED = "refused"
    """It does not win by the margin."""
    NOT_ESTABLISHED = "not established"
    """It wins by the margin, but by less than two standard errors: refused all the same."""
    HOLDS = "holds"


@dataclass(frozen=True, slots=True)
class LocalFit:
    """A fit and its record on seasons left out.

    Parameters
    ----------
    names : tuple of str
        Predictors.
    seasons : int
    intercept_s : float or None
    slopes : tuple of float
        Seconds per unit of each predictor.
    error_s, no_model_s : float or None
        Leave-one-season-out root mean square errors, with the fit and with the mean of the other seasons. [s]
    gain : float or None
        1 - error/no-model error. [1]
    q2 : float or None
        1 - sum of squared errors / the same without a model. [1]
    mean_gain, u_mean_gain : float or None
        Mean difference of squared errors, no model minus fit, and its standard error. [s²]
    nearer : int
        Seasons in which the fit is nearer.
    verdict : Verdict
    findings : tuple of Finding
    """

    names: tuple[str, ...]
    seasons: int
    intercept_s: float | None
    slopes: tuple[float, ...]
    error_s: float | None
    no_model_s: float | None
    gain: float | None
    q2: float | None
    mean_gain: float | None
    u_mean_gain: float | None
    nearer: int
    verdict: Verdict
    findings: tuple[Finding, ...]

    def predict(self, values: Sequence[float]) -> float | None:
        """Seconds for new values; ``None`` unless the fit holds."""
        if self.verdict is not Verdict.HOLDS or self.intercept_s is None:
            return None
        return self.intercept_s + sum(b * v for b, v in zip(self.slopes, values, strict=True))


def _none(names: tuple[str, ...], seasons: int, finding: Finding) -> LocalFit:
    return LocalFit(
        names, seasons, None, (), None, None, None, None, None, None, 0, Verdict.REFUSED, (finding,)
    )


def local_fit(
    mean_s: npt.ArrayLike, predictors: npt.ArrayLike, names: Sequence[str], *, margin: float = MARGIN
) -> LocalFit:
    """Fit yearly means and judge the fit on each season left out in turn.

    Parameters
    ----------
    mean_s : array_like
        One a season or site-year. [s]
    predictors : array_like
        A row a season, one or two columns; rows with a missing one are left out.
    names : sequence of str
        Of the columns.
    margin : float
        Part of the no-model error by which the fit must win. Legal 0 to 1.

    Returns
    -------
    LocalFit
        With ``season-fit-few`` (too few seasons), ``season-fit-flat`` (predictors that do not vary or repeat
        each other), ``season-fit-refused``, ``season-fit-not-established``, ``season-fit-holds``.

    Raises
    ------
    LodestarchError
        With no predictor or more than two: predictors are fixed beforehand, not chosen from many.

    Notes
    -----
    Ordinary least squares; the residual of a season left out is e/(1 - h) with h its leverage, and
    (y - mean) n/(n - 1) without a model.
    """
    x = np.atleast_2d(np.asarray(predictors, dtype=np.float64))
    y = np.asarray(mean_s, dtype=np.float64).ravel()
    if x.shape[0] != y.size:
        x = x.T
    if not 1 <= x.shape[1] <= 2 or x.shape[0] != y.size:
        raise LodestarchError(f"{x.shape[1]} predictors for {y.size} seasons; one or two are fitted")
    label = tuple(names)
    said = " + ".join(label)
    good = np.isfinite(y) & np.isfinite(x).all(axis=1)
    x, y = x[good], y[good]
    n = y.size
    if n < LEAST_SEASONS:
        told: dict[str, Value] = {"what": said, "seasons": n, "enough": LEAST_SEASONS}
        return _none(label, n, Finding("season-fit-few", severity=Severity.STOP, values=told))
    spread = x.std(axis=0)
    scaled = (x - x.mean(axis=0)) / np.where(spread > 0.0, spread, 1.0)
    if bool(np.any(spread <= 1e-12)) or float(np.linalg.cond(scaled)) > 1e6:
        return _none(label, n, Finding("season-fit-flat", severity=Severity.STOP, values={"what": said}))
    return _judged(x, y, label, margin)


def _judged(x: FloatArray, y: FloatArray, label: tuple[str, ...], margin: float) -> LocalFit:
    n = y.size
    design = np.column_stack([np.ones(n), x])
    q, r = np.linalg.qr(design)
    beta = np.linalg.solve(r, q.T @ y)
    out = (y - design @ beta) / (1.0 - np.einsum("ij,ij->i", q, q))
    plain = (y - y.mean()) * n / (n - 1.0)
    error, no_model = math.sqrt(float(np.mean(out**2))), math.sqrt(float(np.mean(plain**2)))
    difference = plain**2 - out**2
    mean_gain = float(difference.mean())
    u = float(difference.std(ddof=1)) / math.sqrt(n)
    gain = 1.0 - error / no_model if no_model > 0.0 else 0.0
    told: dict[str, Value] = {
        "what": " + ".join(label), "error_s": error, "no_model_s": no_model, "gain_pct": 100.0 * gain,
        "margin_pct": 100.0 * margin, "mean_gain": mean_gain, "u_mean_gain": u, "seasons": n,
    }  # fmt: skip
    if gain < margin:
        verdict, finding = (
            Verdict.REFUSED,
            Finding("season-fit-refused", severity=Severity.CHECK, values=told),
        )
    elif mean_gain < 2.0 * u:
        verdict = Verdict.NOT_ESTABLISHED
        finding = Finding("season-fit-not-established", severity=Severity.CHECK, values=told)
    else:
        verdict, finding = Verdict.HOLDS, Finding("season-fit-holds", severity=Severity.NOTE, values=told)
    return LocalFit(
        label, n, float(beta[0]), tuple(float(b) for b in beta[1:]), error, no_model, gain,
        1.0 - float(out @ out) / float(plain @ plain), mean_gain, u,
        int(np.count_nonzero(difference > 0.0)), verdict, (finding,),
    )  # fmt: skip
