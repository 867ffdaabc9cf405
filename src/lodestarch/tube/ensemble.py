"""Seconds of many tubes at once.

Work goes in chunks, so memory does not grow with the number of tubes beyond their own inputs and results.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from lodestarch.common.arrays import FloatArray
from lodestarch.common.findings import Finding
from lodestarch.tube.grid import FAST, Grid
from lodestarch.tube.inputs import TubeArrays
from lodestarch.tube.legal import check_arrays, require_arrays
from lodestarch.tube.parameters import ParameterSet

__all__ = ["CHUNK", "FEW", "Ensemble", "ensemble", "read_rows", "seconds", "seconds_with_error", "stream"]

CHUNK: Final = 32768
"""Tubes whose rows are made at a time: about 2.4 MB of inputs."""

FEW: Final = 128
"""Below this many tubes calling up the other cores costs more than it saves."""


def seconds(tubes: TubeArrays, params: ParameterSet, *, grid: Grid = FAST) -> FloatArray:
    """Falling number of many tubes, over all cores.

    Parameters
    ----------
    tubes : TubeArrays
        Nine inputs, each a number or an array of one shape.
    params : ParameterSet
        Constants.
    grid : Grid
        Steps in time.

    Returns
    -------
    ndarray
        Seconds from lowering to the end of the fall, in the shape of the inputs. Always finite: a tube that
        has settled without ending its fall goes on at the speed it has. [s]

    Raises
    ------
    OutOfRange
        When an input of any tube is outside its legal range (``ensemble`` reports that as findings).

    Examples
    --------
    >>> from lodestarch.tube.parameters import shipped_set
    >>> seconds(TubeArrays(activity=np.array([0.0, 9.0, 45.0])), shipped_set()).round(1)
    array([428.5, 309.3, 147.3])
    """
    require_arrays(tubes)
    return _seconds(tubes, params, grid)


def _seconds(tubes: TubeArrays, params: ParameterSet, grid: Grid) -> FloatArray:
    total = tubes.size
    result = np.empty(total)
    sets = params.vector()[None, :]
    for start in range(0, total, CHUNK):
        stop = min(start + CHUNK, total)
        read_rows(tubes.rows(params, start, stop), sets, grid, result[start:stop])
    return result.reshape(tubes.shape)


def read_rows(rows: FloatArray, sets: FloatArray, grid: Grid, result: FloatArray) -> None:
    """Read rows of tubes into ``result``: over all cores, or on this one where they are few.

    Parameters
    ----------
    rows, sets : ndarray
        As in ``layout``; ``sets`` has one row, or one a tube.
    grid : Grid
        Steps in time.
    result : ndarray
        Receives the seconds. [s]
    """
    # The compiler is imported here, so that nobody waits for it who does not run the model.
    from lodestarch.tube.jit import PARALLEL  # noqa: PLC0415
    from lodestarch.tube.kernels import readings, some  # noqa: PLC0415

    if rows.shape[0] < FEW:
        some(rows, sets, grid.row(), result, 0, rows.shape[0])
    else:
        with PARALLEL:
            readings(rows, sets, grid.row(), result)


def seconds_with_error(
    tubes: TubeArrays, params: ParameterSet, *, grid: Grid = FAST
) -> tuple[FloatArray, FloatArray]:
    """Falling number of many tubes, with an estimate of its numerical error.

    Returns
    -------
    seconds, error : ndarray
        Seconds on the grid with all steps halved, and how far they moved from the grid as given. [s] For a
        fourth-order rule the halved grid is about sixteen times better than that distance, so it bounds the
        error of what is returned. It says nothing on how good the model is.
    """
    require_arrays(tubes)
    fine = _seconds(tubes, params, grid.halved())
    return fine, np.abs(fine - _seconds(tubes, params, grid))


@dataclass(frozen=True, slots=True)
class Ensemble:
    """Seconds of the tubes that may be run.

    Parameters
    ----------
    rows : ndarray of int
        Which tubes they are, in flat order.
    seconds : ndarray
        Their falling numbers. [s]
    error_s : ndarray
        Numerical error of each. [s]
    findings : tuple of Finding
        Why the others were not run.
    """

    rows: npt.NDArray[np.intp]
    seconds: FloatArray
    error_s: FloatArray
    findings: tuple[Finding, ...]


def ensemble(tubes: TubeArrays, params: ParameterSet, *, grid: Grid = FAST) -> Ensemble:
    """Run the tubes that may be run, and report the others as findings."""
    rows, found = check_arrays(tubes)
    if found:
        tubes = tubes.picked(rows)
    if rows.size == 0:
        return Ensemble(rows, np.empty(0), np.empty(0), found)
    fine, error = seconds_with_error(tubes, params, grid=grid)
    return Ensemble(rows, fine.reshape(-1), error.reshape(-1), found)


def stream(batches: Iterable[TubeArrays], params: ParameterSet, *, grid: Grid = FAST) -> Iterator[FloatArray]:
    """Yield the seconds of one batch after another; only one is in memory."""
    for batch in batches:
        yield seconds(batch, params, grid=grid)
