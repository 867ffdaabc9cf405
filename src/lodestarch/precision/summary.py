"""Mean, SD, lag-1 autocorrelation and percentiles of one column, without losing digits."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from lodestarch.common.errors import NoAnswer, UnknownName

__all__ = ["Summary", "percentile", "summarise"]


@dataclass(frozen=True, slots=True)
class Summary:
    """One column.

    Parameters
    ----------
    n : int
    mean : float
    sd : float or None
        With n - 1; ``None`` below two values.
    lag1 : float or None
        Autocorrelation at lag 1; ``None`` below three values or when all are equal.
    """

    n: int
    mean: float
    sd: float | None
    lag1: float | None


def summarise(values: npt.ArrayLike) -> Summary:
    """Summarise finite values.

    Parameters
    ----------
    values : array_like
        At least one value, none missing.

    Raises
    ------
    NoAnswer
        ``summary-empty`` without values.

    Notes
    -----
    Two passes: values are centred on their mean, and the mean is corrected by the mean of what is left
    (a sum of squares taken without centring loses all digits of such sets as 10000001, 10000003, ...).

    Examples
    --------
    >>> summarise([10000001, 10000003, 10000002])
    Summary(n=3, mean=10000002.0, sd=1.0, lag1=-0.5)
    """
    x = np.asarray(values, dtype=np.float64)
    if x.size == 0:
        raise NoAnswer("summary-empty", values=0)
    rough = float(x.mean())
    left = x - rough
    mean = rough + math.fsum(left) / x.size
    d = x - mean
    square = math.fsum(d * d)
    sd = math.sqrt(square / (x.size - 1)) if x.size > 1 else None
    lag1 = math.fsum(d[1:] * d[:-1]) / square if x.size > 2 and square > 0.0 else None
    return Summary(x.size, mean, sd, lag1)


_METHOD = {6: "weibull", 7: "linear", 8: "median_unbiased"}


def percentile(values: npt.ArrayLike, probability: float, kind: int = 7) -> float:
    """Percentile by a stated definition.

    Parameters
    ----------
    values : array_like
        At least one value.
    probability : float
        Between 0 and 1.
    kind : int
        6: p(n + 1); 7: 1 + p(n - 1); 8: p(n + 1/3) + 1/3.

    Raises
    ------
    UnknownName
        When the definition is none of these.
    """
    if kind not in _METHOD:
        raise UnknownName("percentile definition", str(kind), tuple(map(str, _METHOD)))
    return float(np.quantile(np.asarray(values, dtype=np.float64), probability, method=_METHOD[kind]))  # type: ignore[call-overload]  # the method is looked up by name
