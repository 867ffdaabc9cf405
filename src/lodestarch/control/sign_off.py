"""Sign-off of harvest help by blind duplicates: is a helper's bench as good as the lab's?"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.special import chdtri, stdtrit

from lodestarch.common.errors import LodestarchError, NoAnswer, OutOfRange
from lodestarch.common.findings import Finding, Severity

__all__ = ["SignOff", "sign_off"]

_LEAST: Final = 5


@dataclass(frozen=True, slots=True)
class SignOff:
    """Blind results of one person against the lab's.

    Parameters
    ----------
    n : int
    spread_ratio, spread_low, spread_high : float
        SD of the person's own blind duplicates over that of the law, and its interval. [1]
    bias_s, bias_low_s, bias_high_s : float or None
        Mean difference from the reference results; ``None`` without them. [s]
    margin_s, most_ratio : float
        What was agreed beforehand. [s, 1]
    verdict : str
        ``ready`` (both intervals within what was agreed), ``not-yet`` (one outside), ``more-needed``.
    findings : tuple of Finding
        ``sign-off-few``, ``sign-off-value-missing``.
    """

    n: int
    spread_ratio: float
    spread_low: float
    spread_high: float
    bias_s: float | None
    bias_low_s: float | None
    bias_high_s: float | None
    margin_s: float
    most_ratio: float
    verdict: str
    findings: tuple[Finding, ...]


def sign_off(
    first_s: npt.ArrayLike,
    second_s: npt.ArrayLike,
    sd_s: npt.ArrayLike,
    *,
    reference_s: npt.ArrayLike | None = None,
    u_reference_s: npt.ArrayLike = 0.0,
    margin_s: float = 10.0,
    most_ratio: float = 1.6,
    probability: float = 0.90,
) -> SignOff:
    """Judge blind duplicates that a helper ran without knowing them for such.

    Parameters
    ----------
    first_s, second_s : array_like
        Blind pair on each sample; missing ones are left out with a finding. [s]
    sd_s : array_like
        SD of one tube at each level, from the lab's law of scatter. [s]  Above 0.
    reference_s : array_like, optional
        The lab's own results on the same samples. [s]
    u_reference_s : array_like
        Their standard uncertainties. [s]
    margin_s : float
        Mean difference that does not matter. [s]  Above 0.
    most_ratio : float
        Largest ratio of SDs that is accepted. [1]  Above 1.
    probability : float
        Content of the intervals; 0.90 makes each side a 5 % test.

    Raises
    ------
    NoAnswer
        ``sign-off-missing`` with fewer than three pairs.

    Examples
    --------
    >>> s = sign_off([300, 250, 410, 280, 333], [304, 247, 401, 283, 329], [6, 5, 8, 5.6, 6.7])
    >>> s.verdict
    'ready'
    """
    a, b = np.asarray(first_s, dtype=np.float64), np.asarray(second_s, dtype=np.float64)
    sd = np.broadcast_to(np.asarray(sd_s, dtype=np.float64), a.shape)
    if a.shape != b.shape:
        raise LodestarchError("columns of blind pairs differ in length")
    if not (margin_s > 0.0 and most_ratio > 1.0):
        raise OutOfRange("margin_s and most_ratio", min(margin_s, most_ratio), 1.0, math.inf, "s and 1")
    good = np.isfinite(a) & np.isfinite(b) & (sd > 0.0)
    n = int(good.sum())
    if n < 3:
        raise NoAnswer("sign-off-missing", pairs=n, enough=3)
    findings = []
    if not bool(good.all()):
        findings.append(
            Finding("sign-off-value-missing", severity=Severity.CHECK, values={"pairs": int((~good).sum())})
        )
    if n < _LEAST:
        findings.append(
            Finding("sign-off-few", severity=Severity.NOTE, values={"pairs": n, "enough": _LEAST})
        )
    tail = 0.5 * (1.0 - probability)
    square = float((((a - b) ** 2)[good] / (2.0 * sd[good] ** 2)).sum())
    ratio = math.sqrt(square / n)
    low = math.sqrt(square / float(chdtri(float(n), tail)))
    high = math.sqrt(square / float(chdtri(float(n), 1.0 - tail)))
    bias = _bias(a, b, reference_s, u_reference_s, good, tail)
    return SignOff(
        n, ratio, low, high, *bias, margin_s, most_ratio,
        _verdict(low, high, bias, margin_s, most_ratio), tuple(findings),
    )  # fmt: skip


def _bias(
    a: npt.NDArray[np.float64],
    b: npt.NDArray[np.float64],
    reference_s: npt.ArrayLike | None,
    u_reference_s: npt.ArrayLike,
    good: npt.NDArray[np.bool_],
    tail: float,
) -> tuple[float | None, float | None, float | None]:
    if reference_s is None:
        return None, None, None
    reference = np.asarray(reference_s, dtype=np.float64)
    use = good & np.isfinite(reference)
    d = (0.5 * (a + b) - reference)[use]
    if d.size < 3:
        return None, None, None
    u_reference = np.broadcast_to(np.asarray(u_reference_s, dtype=np.float64), a.shape)[use]
    # The spread of differences already holds the references' own scatter; it is a floor where few agree.
    se = max(float(d.std(ddof=1)), float(np.sqrt((u_reference**2).mean()))) / math.sqrt(d.size)
    half = float(stdtrit(d.size - 1.0, 1.0 - tail)) * se
    mean = float(d.mean())
    return mean, mean - half, mean + half


def _verdict(
    low: float,
    high: float,
    bias: tuple[float | None, float | None, float | None],
    margin_s: float,
    most_ratio: float,
) -> str:
    _, below, above = bias
    outside = below is not None and above is not None and (below > margin_s or above < -margin_s)
    if low > most_ratio or outside:
        return "not-yet"
    inside = below is None or above is None or (below > -margin_s and above < margin_s)
    return "ready" if high < most_ratio and inside else "more-needed"
