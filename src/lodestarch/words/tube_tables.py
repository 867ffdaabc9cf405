"""The four curves of the tube as tables: what stands beside a picture for who wants the figures."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from lodestarch.words.catalogues import DEFAULT_LOCALE, term
from lodestarch.words.drawing.tube_curves import TubeTrace
from lodestarch.words.numbers import DASH, number

__all__ = ["CurveTable", "curve_table", "curve_value", "table_times"]

_LEAST_STEP_S: Final = 20.0
_CLEAR_S: Final = 5.0
_MOST_ROWS: Final = 18
_DECIMALS: Final = {"temperature": 0, "enzyme": 1, "strength": 2, "fall": 0}


@dataclass(frozen=True, slots=True)
class CurveTable:
    """Names of the columns, and rows of cells as they are read; the first is the time. [s]"""

    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def table_times(ends_s: Sequence[float]) -> list[float]:
    """Times of the rows: round ones, twenty seconds or more apart and clear of the ends, and every end. [s]

    Examples
    --------
    >>> table_times([70.0, 80.0])
    [0.0, 20.0, 40.0, 60.0, 70.0, 80.0]
    >>> table_times([59.8])
    [0.0, 20.0, 40.0, 59.8]
    """
    end = max(ends_s)
    step = max(_LEAST_STEP_S, math.ceil(end / _MOST_ROWS / 20.0) * 20.0)
    round_ones = [i * step for i in range(int(end // step) + 1)]
    return sorted({*(t for t in round_ones if all(abs(t - e) >= _CLEAR_S for e in ends_s)), *ends_s})


def _read(times: Sequence[float], row: Sequence[float], at: float) -> float:
    """A row at a time, straight between its entries."""
    i = bisect_right(times, at) - 1
    if i >= len(times) - 1:
        return row[-1]
    return row[i] + (row[i + 1] - row[i]) * (at - times[i]) / (times[i + 1] - times[i])


def curve_value(kind: str, trace: TubeTrace, at_s: float) -> str:
    """What a curve is at a time; after the end it stays as at the end."""
    rows = {
        "temperature": trace.mean_c,
        "enzyme": trace.enzyme,
        "strength": trace.strength,
        "fall": trace.fallen,
    }
    value = _read(trace.time_s, rows[kind], at_s)
    return number(100.0 * value if kind == "fall" else value, _DECIMALS[kind])


def _cell(kind: str, trace: TubeTrace, at_s: float, locale: str) -> str:
    if at_s > trace.time_s[-1] + 1e-9:
        return DASH
    said = curve_value(kind, trace, at_s)
    if kind != "temperature":
        return said
    ends = [number(_read(trace.time_s, row, at_s), 0) for row in (trace.core_c, trace.wall_c)]
    if ends[0] == ends[1]:
        return said
    return term("tube-page.cell-temperature", locale, mean=said, core=ends[0], wall=ends[1])


def curve_table(kind: str, traces: Sequence[TubeTrace], locale: str = DEFAULT_LOCALE) -> CurveTable:
    """One of the four curves as a table.

    Parameters
    ----------
    kind : str
        Of ``drawing.tube_curves.KINDS``.
    traces : sequence of TubeTrace
        One or two tubes.
    """
    columns = [term("tube-page.time-column", locale)]
    columns += [term(f"tube-page.column-{kind}", locale, name=t.name) for t in traces]
    times = table_times([t.time_s[-1] for t in traces])
    rows = [(number(at, 0), *(_cell(kind, trace, at, locale) for trace in traces)) for at in times]
    return CurveTable(tuple(columns), tuple(rows))
