"""One place that turns plain functions into compiled ones, and that starts parallel work.

Imported only by the kernels, so that nobody pays for the compiler who does not run the model.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Final, TypeVar, cast

import numba

__all__ = ["PARALLEL", "across", "compiled", "inlined", "parallel"]

F = TypeVar("F", bound=Callable[..., object])

PARALLEL: Final = threading.Lock()
"""Held while a parallel kernel runs: a threading layer without locks of its own ends the process when
two threads enter it at once, and a server has several."""


def compiled(function: F) -> F:
    """Compile a kernel for one core; kept on disk beside the source between runs.

    Contraction into fused multiply-adds and reordering of sums are allowed; infinities and NaN keep
    their meaning.
    """
    wrap = numba.njit(cache=True, nogil=True, error_model="numpy", fastmath={"contract", "reassoc"})
    return cast("F", wrap(function))


def parallel(function: F) -> F:
    """Compile a kernel whose outer loop is spread over the cores."""
    wrap = numba.njit(
        cache=True, nogil=True, error_model="numpy", fastmath={"contract", "reassoc"}, parallel=True
    )
    return cast("F", wrap(function))


def inlined(function: F) -> F:
    """Write a small function out wherever a kernel calls it, before the compiler looks at its loops."""
    return cast("F", numba.njit(inline="always", error_model="numpy", fastmath={"contract"})(function))


across = numba.prange
