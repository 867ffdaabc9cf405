"""One step of a linear Gaussian belief, shared by receiving and load-out."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

__all__ = ["learned"]

Array = npt.NDArray[np.float64]


def learned(mean: Array, cov: Array, design: Array, surprise: float, noise: float) -> tuple[Array, Array]:
    """Return mean and covariance after one observation.

    Parameters
    ----------
    mean, cov : ndarray, shape (n,), (n, n)
    design : ndarray, shape (n,)
        The observation is ``design @ truth`` plus noise.
    surprise : float
        Observation minus what was expected of it.
    noise : float
        Variance of the noise. Above 0.

    Notes
    -----
    K = P h / (h P h + noise); mean + K surprise; P - K h P (the Kalman update, standard theory).

    Examples
    --------
    >>> m, p = learned(np.zeros(1), np.eye(1), np.ones(1), 1.0, 1.0)
    >>> float(m[0]), float(p[0, 0])
    (0.5, 0.5)
    """
    towards = cov @ design
    total = float(design @ towards) + noise
    return mean + towards * (surprise / total), cov - np.outer(towards, towards) / total
