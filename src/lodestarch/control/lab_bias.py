"""Bias by pair of labs, from samples that both measured: what another lab adds to a question about it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from lodestarch.common.errors import LodestarchError, NoAnswer
from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.precision.components import fit_components

__all__ = ["LabBias", "lab_bias"]

_FEW: Final = 6
"""Pairs below which a bias is hardly known (a choice of ours: its t factor then exceeds 2.5)."""


@dataclass(frozen=True, slots=True)
class LabBias:
    """Difference *other minus ours*.

    Parameters
    ----------
    pairs : int
    bias_s, u_bias_s : float
        Mean difference and its standard uncertainty. [s]
    sd_difference_s : float
        SD of one difference. [s]
    sd_between_s : float
        What the difference of two results has on top of both labs' own scatter: how far the bias wanders
        from occasion to occasion or sample to sample. [s]
    dof : float
        Degrees of freedom of both.
    findings : tuple of Finding
        ``bias-pairs-few``, ``bias-value-missing``, ``bias-occasions-one``.
    """

    pairs: int
    bias_s: float
    u_bias_s: float
    sd_difference_s: float
    sd_between_s: float
    dof: float
    findings: tuple[Finding, ...]


def lab_bias(
    ours_s: npt.ArrayLike,
    theirs_s: npt.ArrayLike,
    *,
    u_ours_s: npt.ArrayLike = 0.0,
    u_theirs_s: npt.ArrayLike = 0.0,
    occasion: npt.ArrayLike | None = None,
) -> LabBias:
    """Bias of another lab against ours.

    Parameters
    ----------
    ours_s, theirs_s : array_like
        Paired results; missing ones are left out with a finding. [s]
    u_ours_s, u_theirs_s : array_like
        Standard uncertainty of each result from within-lab scatter; taken off the spread of differences. [s]
    occasion : array_like, optional
        Day or shipment of each pair: pairs of one occasion share its bias, so that the mean is weighted and
        the degrees of freedom are those of the occasions.

    Raises
    ------
    NoAnswer
        ``compare-pairs-few`` with fewer than three usable pairs.
    LodestarchError
        When columns differ in length.

    Examples
    --------
    >>> b = lab_bias([300, 280, 310, 260, 330, 295], [306, 284, 317, 263, 338, 300])
    >>> round(b.bias_s, 1), round(b.u_bias_s, 2)
    (5.5, 0.76)
    """
    a, b = np.asarray(ours_s, dtype=np.float64), np.asarray(theirs_s, dtype=np.float64)
    if a.shape != b.shape or (occasion is not None and np.shape(occasion) != a.shape):
        raise LodestarchError("columns of a comparison differ in length")
    good = np.isfinite(a) & np.isfinite(b)
    findings = [
        Finding("bias-value-missing", Where(row=int(i) + 1), Severity.STOP)
        for i in np.flatnonzero(~good)[:20]
    ]
    d = (b - a)[good]
    n = int(d.size)
    if n < 3:
        raise NoAnswer("compare-pairs-few", pairs=n, enough=3)
    own = (np.broadcast_to(np.asarray(u_ours_s) ** 2 + np.asarray(u_theirs_s) ** 2, a.shape))[good]
    sd = float(d.std(ddof=1))
    wander = math.sqrt(max(sd * sd - float(own.mean()), 0.0))
    mean, u, dof = float(d.mean()), sd / math.sqrt(n), n - 1.0
    if occasion is not None:
        label = np.asarray(occasion).ravel()[good]
        groups = int(np.unique(label).size)
        if 2 <= groups < n:
            split = fit_components(d, [label], ["occasion"])
            if split.mean is not None and split.u_mean is not None:
                mean, u, dof = split.mean, split.u_mean, groups - 1.0
        elif groups == 1:
            findings.append(Finding("bias-occasions-one", severity=Severity.CHECK, values={"pairs": n}))
    if n < _FEW:
        findings.append(
            Finding("bias-pairs-few", severity=Severity.NOTE, values={"pairs": n, "enough": _FEW})
        )
    return LabBias(n, mean, u, sd, wander, dof, tuple(findings))
