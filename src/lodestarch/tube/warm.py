"""Compile, or fetch from disk, everything that a first run would otherwise wait for."""

from __future__ import annotations

import numpy as np

from lodestarch.tube.curves import curve_of, falls, law_of, stacked
from lodestarch.tube.ensemble import FEW, seconds
from lodestarch.tube.history import run
from lodestarch.tube.inputs import TubeArrays, TubeInputs
from lodestarch.tube.parameters import shipped_set

__all__ = ["warm"]


def warm() -> None:
    """Make the kernels ready: a good half minute the first time on a machine, a second from then on.

    For a server to call when it starts; nothing needs it to have been called.
    """
    params = shipped_set()
    tube = TubeInputs(ln=24.0)
    run(tube, params)
    for tubes in (1, FEW):
        seconds(TubeArrays(activity=np.full(tubes, 9.0)), params)
    curve = curve_of(tube, params)
    for laws in (1, 2000):
        law = np.tile(law_of(params, 9.0, curve.concentration), (laws, 1))
        falls(stacked([curve]), np.zeros(laws), law)
