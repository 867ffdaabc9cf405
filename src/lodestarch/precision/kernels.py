"""Few hot kernels or many warm ones: sampling of kernels, and what the spread between subsamples says.

An illustration with a free parameter: no measured distribution of amylase over single kernels is known.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import chdtri
from scipy.stats import poisson

from lodestarch.common.arrays import FloatArray, Floats, as_array, like
from lodestarch.common.errors import NoAnswer, OutOfRange
from lodestarch.common.findings import Finding, Severity
from lodestarch.method.liquefaction import fn_from_ln, ln_from_fn, ln_slope

__all__ = [
    "HotKernels",
    "SpreadCheck",
    "check_spread",
    "effective_number",
    "fundamental_cv",
    "hot_kernels",
    "kernel_cv",
    "one_hot_kernel_fn",
]


def one_hot_kernel_fn(base_fn_s: Floats, kernels: float, ratio: float) -> Floats:
    """Falling number of a ground sample in which one kernel is hot.

    Parameters
    ----------
    base_fn_s : float or ndarray
        Falling number without it. [s]  Above 50.
    kernels : float
        Kernels in the ground sample (about 30 a gram). At least 1.
    ratio : float
        Amylase of the hot kernel over its neighbours', set by the user. [1]  At least 1.

    Notes
    -----
    FN = 50 + 6000/(LN0 (1 + (R - 1)/N)). The lottery is drawn at the size of the ground sample, not of the
    7 g portion: grinding spreads each kernel over many particles.

    Examples
    --------
    >>> round(one_hot_kernel_fn(350.0, 7500, 1000.0), 1)
    314.7
    """
    if not kernels >= 1.0:
        raise OutOfRange("kernels", kernels, 1.0, math.inf, "1")
    if not ratio >= 1.0:
        raise OutOfRange("ratio", ratio, 1.0, math.inf, "1")
    ln = as_array(ln_from_fn(base_fn_s)) * (1.0 + (ratio - 1.0) / kernels)
    return like(base_fn_s, np.asarray(fn_from_ln(ln)))


@dataclass(frozen=True, slots=True)
class HotKernels:
    """Falling number of ground samples that catch a Poisson number of hot kernels.

    Parameters
    ----------
    ln_per_kernel : float
        Rise of LN per hot kernel. [1]
    fn_at_mean_s : float
        Falling number of the mean LN. [s]
    mean_fn_s, sd_fn_s : float
        Mean and SD of the falling number over ground samples. [s]
    p_none : float
        Probability that a ground sample holds no hot kernel. [1]
    """

    ln_per_kernel: float
    fn_at_mean_s: float
    mean_fn_s: float
    sd_fn_s: float
    p_none: float


def hot_kernels(base_fn_s: float, mean_number: float, kernels: float, ratio: float) -> HotKernels:
    """Mean and SD over ground samples when hot kernels are drawn at random.

    Parameters
    ----------
    base_fn_s : float
        Falling number of the sound grain. [s]  Above 50.
    mean_number : float
        Mean number of hot kernels in a ground sample. At least 0.
    kernels, ratio : float
        As in ``one_hot_kernel_fn``.

    Examples
    --------
    >>> h = hot_kernels(400.0, 3.0, 7500, 1000.0)
    >>> round(h.mean_fn_s, 1), round(h.sd_fn_s, 1)
    (306.7, 41.3)
    """
    if not (math.isfinite(mean_number) and mean_number >= 0.0):
        raise OutOfRange("mean_number", mean_number, 0.0, math.inf, "1")
    base = ln_from_fn(base_fn_s)
    step = base * (ratio - 1.0) / kernels
    last = int(mean_number + 12.0 * math.sqrt(mean_number) + 20.0)
    count = np.arange(last + 1)
    p = poisson.pmf(count, mean_number)
    fn = np.asarray(fn_from_ln(base + step * count.astype(np.float64)))
    mean = float((p * fn).sum() / p.sum())
    var = float((p * (fn - mean) ** 2).sum() / p.sum())
    at_mean = float(fn_from_ln(base + step * mean_number))
    return HotKernels(step, at_mean, mean, math.sqrt(var), math.exp(-mean_number))


def effective_number(sound_fn_s: float, fn_s: float, sampling_sd_s: float) -> float:
    """Number of equal hot kernels per ground sample that would explain a fall and its sampling SD.

    Parameters
    ----------
    sound_fn_s : float
        Falling number of the sound grain. [s]
    fn_s : float
        Falling number now, below it. [s]
    sampling_sd_s : float
        SD between independently ground subsamples, tube scatter taken off. [s]  Above 0.

    Notes
    -----
    (dLN/SD of LN)^2 for Poisson numbers. Small SDs mean many moderately active kernels, large ones few.

    Examples
    --------
    >>> round(effective_number(400.0, 300.0, 50.0**0.5))
    102
    """
    if not fn_s < sound_fn_s:
        raise OutOfRange("fn_s", fn_s, 50.0, sound_fn_s, "s")
    if not sampling_sd_s > 0.0:
        raise OutOfRange("sampling_sd_s", sampling_sd_s, 0.0, math.inf, "s")
    rise = ln_from_fn(fn_s) - ln_from_fn(sound_fn_s)
    return float((rise / (sampling_sd_s * abs(ln_slope(fn_s)))) ** 2)


def kernel_cv(hot_share: float, ratio: float) -> float:
    """CV of amylase over kernels of two classes. [1]

    Notes
    -----
    CV^2 = p(1 - p)(R - 1)^2/(1 + p(R - 1))^2.

    Examples
    --------
    >>> round(kernel_cv(0.01, 100.0), 2)
    4.95
    """
    if not 0.0 <= hot_share <= 1.0:
        raise OutOfRange("hot_share", hot_share, 0.0, 1.0, "1")
    return math.sqrt(hot_share * (1.0 - hot_share)) * (ratio - 1.0) / (1.0 + hot_share * (ratio - 1.0))


def fundamental_cv(cv_kernel: float, kernels_sample: float, kernels_lot: float = math.inf) -> float:
    """Relative SD of a sample's mean amylase from the lottery of equal kernels alone. [1]

    Notes
    -----
    CV_kernel sqrt(1/n_sample - 1/n_lot): the fundamental error of the theory of sampling. Segregation is not
    in it; that comes from probe-to-probe variance.

    Examples
    --------
    >>> round(fundamental_cv(4.95, 7500), 3)
    0.057
    """
    if not 1.0 <= kernels_sample <= kernels_lot:
        raise OutOfRange("kernels_sample", kernels_sample, 1.0, kernels_lot, "1")
    return cv_kernel * math.sqrt(1.0 / kernels_sample - 1.0 / kernels_lot)


@dataclass(frozen=True, slots=True)
class SpreadCheck:
    """Spread between independently ground subsamples against what the bench explains.

    Parameters
    ----------
    subsamples : int
    observed_sd_s, expected_sd_s : float
        Between subsamples; from tubes and grinding. [s]
    ratio, low, high : float
        Observed over expected, and the interval of that ratio. [1]
    excess_sd_s : float
        What the bench does not explain, 0 where it explains all. [s]
    many : float or None
        Effective number of hot kernels, where a sound falling number was given and there is an excess.
    verdict : str
        ``as-expected``, ``more-than-expected``, or ``cannot-tell`` (the interval holds both 1 and 2).
    findings : tuple of Finding
        ``spread-subsamples-few``.
    """

    subsamples: int
    observed_sd_s: float
    expected_sd_s: float
    ratio: float
    low: float
    high: float
    excess_sd_s: float
    many: float | None
    verdict: str
    findings: tuple[Finding, ...]


def check_spread(
    subsample_s: npt.ArrayLike,
    expected_sd_s: float,
    *,
    sound_fn_s: float | None = None,
    probability: float = 0.90,
) -> SpreadCheck:
    """Compare the spread between independently ground subsamples with the expected one.

    Parameters
    ----------
    subsample_s : array_like
        One result per independently ground subsample of one lot. [s]  At least two.
    expected_sd_s : float
        SD that tubes and grinding explain for such a result. [s]  Above 0.
    sound_fn_s : float, optional
        Falling number of the same grain unsprouted, for the effective number of hot kernels. [s]
    probability : float
        Content of the interval of the ratio.

    Returns
    -------
    SpreadCheck

    Raises
    ------
    NoAnswer
        ``spread-subsamples-missing`` with fewer than two finite results.

    Notes
    -----
    Chi-square interval of the variance ratio. Its limits: it tells few hot kernels from many only when
    subsamples are ground separately; segregation between probes shows the same sign; with five subsamples the
    ratio's interval spans a factor of about three.
    """
    if not (math.isfinite(expected_sd_s) and expected_sd_s > 0.0):
        raise OutOfRange("expected_sd_s", expected_sd_s, 0.0, math.inf, "s")
    x: FloatArray = np.asarray(subsample_s, dtype=np.float64)
    x = x[np.isfinite(x)]
    if x.size < 2:
        raise NoAnswer("spread-subsamples-missing", subsamples=int(x.size))
    dof = float(x.size - 1)
    sd = float(x.std(ddof=1))
    ratio, tail = sd / expected_sd_s, 0.5 * (1.0 - probability)
    low = ratio * math.sqrt(dof / float(chdtri(dof, tail)))
    high = ratio * math.sqrt(dof / float(chdtri(dof, 1.0 - tail)))
    excess = math.sqrt(max(sd * sd - expected_sd_s**2, 0.0))
    mean = float(x.mean())
    many = None
    if sound_fn_s is not None and excess > 0.0 and mean < sound_fn_s:
        many = effective_number(sound_fn_s, mean, excess)
    verdict = "more-than-expected" if low > 1.0 else "as-expected" if high < 2.0 else "cannot-tell"
    few = Finding("spread-subsamples-few", severity=Severity.NOTE, values={"subsamples": int(x.size)})
    return SpreadCheck(
        int(x.size), sd, expected_sd_s, ratio, low, high, excess, many, verdict, (few,) if x.size < 5 else ()
    )
