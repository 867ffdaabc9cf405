"""The lab's own blends: what was predicted beside what was measured, and the margin that a plan keeps."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from scipy.optimize import minimize_scalar
from scipy.special import stdtr, stdtrit

from lodestarch.common.errors import NoAnswer, NotComparable, OutOfRange
from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.method.blend import CAP_S, Lot, blend
from lodestarch.method.reading import Kind

__all__ = ["BlendLine", "BlendRecord", "MeasuredBlend", "compare_blends"]

_ENOUGH: Final = 5
"""Blends below which nothing is said of the law (a choice of ours)."""
_TO_FIT: Final = 10
"""Blends from which a law is fitted."""
_OFFSETS: Final = (0.0, 59.0)


@dataclass(frozen=True, slots=True)
class MeasuredBlend:
    """One blend that was made and tested.

    Parameters
    ----------
    name : str
    lots : tuple of Lot
        What went in.
    measured_s : float
        What it read. [s]
    kind : Kind
    """

    name: str
    lots: tuple[Lot, ...]
    measured_s: float
    kind: Kind = Kind.EXACT


@dataclass(frozen=True, slots=True)
class BlendLine:
    """One blend, predicted and measured.

    Parameters
    ----------
    name : str
    lots : int
    predicted_s, measured_s : float
        [s]
    error_s : float
        Measured minus predicted. [s]
    compared : bool
        False where lots or result only bound: such a blend is shown and not counted.
    """

    name: str
    lots: int
    predicted_s: float
    measured_s: float
    error_s: float
    compared: bool


@dataclass(frozen=True, slots=True)
class BlendRecord:
    """How well blends came out.

    Parameters
    ----------
    lines : tuple of BlendLine
    compared : int
        Blends that count.
    bias_s, u_bias_s, sd_s : float or None
        Mean error, its standard uncertainty, and SD of the errors. [s]
    chance : float or None
        Probability of a mean error as large without bias. [1]
    margin_s : float or None
        How far above a limit a predicted blend should lie so that the next one reaches it with
        ``probability``, never below 0. [s]  For the plan.
    probability : float
    offset_s : float or None
        Offset of the law that fits these blends best, 6000/(FN - offset). [s]
    law_error_s, fitted_error_s : float or None
        Root mean square errors of the standard law, and of the fitted one with each blend left out. [s]
    use_fitted : bool
        The fitted law wins on blends left out by more than a tenth.
    findings : tuple of Finding
    """

    lines: tuple[BlendLine, ...]
    compared: int
    bias_s: float | None
    u_bias_s: float | None
    sd_s: float | None
    chance: float | None
    margin_s: float | None
    probability: float
    offset_s: float | None
    law_error_s: float | None
    fitted_error_s: float | None
    use_fitted: bool
    findings: tuple[Finding, ...]


def compare_blends(
    blends: Sequence[MeasuredBlend],
    *,
    cap_s: float | None = CAP_S,
    probability: float = 0.9,
    source: str = "",
) -> BlendRecord:
    """Hold own blends against the law.

    Parameters
    ----------
    blends : sequence of MeasuredBlend
    cap_s : float or None
        As in ``method.blend``. [s]
    probability : float
        Wanted chance that the next blend reaches its limit. Legal 0.5 to 0.999.
    source : str
        File, for findings.

    Returns
    -------
    BlendRecord
        With ``season-blend-unusable`` (a blend that cannot be computed), ``season-blends-few``,
        ``season-blend-bias`` (they come out lower or higher than computed beyond chance),
        ``season-blends-bound`` (shown, not counted).

    Notes
    -----
    The margin is the lower prediction limit of the errors, t s sqrt(1 + 1/n) - bias: it takes up the bench's
    scatter, what mixing left unmixed, and the law's own fault, because the lab's blends hold all three.
    """
    where = Where(source=source or None)
    found: list[Finding] = []
    lines, kept = [], []
    for one in blends:
        try:
            mix = blend(one.lots, cap_s=cap_s)
        except (NoAnswer, NotComparable, OutOfRange):
            told: dict[str, Value] = {"blend": one.name}
            found.append(Finding("season-blend-unusable", where, Severity.STOP, told))
            continue
        compared = mix.kind is Kind.EXACT and one.kind is Kind.EXACT
        error = one.measured_s - mix.seconds_s
        lines.append(BlendLine(one.name, len(one.lots), mix.seconds_s, one.measured_s, error, compared))
        if compared:
            kept.append(one)
    errors = np.array([line.error_s for line in lines if line.compared])
    n = errors.size
    if n < len(lines):
        found.append(Finding("season-blends-bound", where, Severity.NOTE, {"count": len(lines) - n}))
    record = BlendRecord(
        tuple(lines), n, None, None, None, None, None, probability, None, None, None, False, tuple(found)
    )  # fmt: skip
    if n < _ENOUGH:
        told = {"count": n, "enough": _ENOUGH}
        few = Finding("season-blends-few", where, Severity.CHECK, told)
        return _with(record, findings=(*found, few))
    bias, sd = float(errors.mean()), float(errors.std(ddof=1))
    u = sd / math.sqrt(n)
    chance = 1.0 if u == 0.0 else 2.0 * float(stdtr(n - 1, -abs(bias) / u))
    reach = float(stdtrit(n - 1, probability)) * sd * math.sqrt(1.0 + 1.0 / n)
    if chance < 0.05:
        told = {"bias_s": bias, "u_bias_s": u, "count": n, "chance": chance}
        found.append(Finding("season-blend-bias", where, Severity.CHECK, told))
    law = math.sqrt(float(np.mean(errors**2)))
    offset, left_out = (None, None) if n < _TO_FIT else _fitted(kept, cap_s)
    return _with(
        record, bias_s=bias, u_bias_s=u, sd_s=sd, chance=chance, margin_s=max(0.0, reach - bias),
        offset_s=offset, law_error_s=law, fitted_error_s=left_out,
        use_fitted=left_out is not None and left_out < 0.9 * law, findings=tuple(found),
    )  # fmt: skip


def _with(record: BlendRecord, **changes: object) -> BlendRecord:
    return replace(record, **changes)  # type: ignore[arg-type]  # names are those of the record


def _law(lots: Sequence[Lot], offset_s: float, cap_s: float | None) -> float:
    """What a mix reads where 1/(FN - offset) adds by mass."""
    seconds = np.array([min(lot.seconds_s, cap_s) if cap_s else lot.seconds_s for lot in lots])
    mass = np.array([lot.mass for lot in lots])
    return offset_s + float(mass.sum() / np.sum(mass / np.maximum(seconds - offset_s, 1e-6)))


def _fitted(blends: Sequence[MeasuredBlend], cap_s: float | None) -> tuple[float, float]:
    """Offset of the best law, and its error on blends left out."""
    measured = np.array([b.measured_s for b in blends])

    def best(rows: np.ndarray) -> float:
        def squares(offset: float) -> float:
            return sum((_law(blends[int(i)].lots, offset, cap_s) - float(measured[i])) ** 2 for i in rows)

        low = min(lot.seconds_s for b in blends for lot in b.lots)
        ends = (_OFFSETS[0], min(_OFFSETS[1], low - 1.0))
        found: Any = minimize_scalar(squares, bounds=ends, method="bounded")
        return float(found.x)

    every = np.arange(measured.size)
    out = [_law(blends[int(i)].lots, best(np.delete(every, i)), cap_s) - measured[i] for i in every]
    return best(every), math.sqrt(float(np.mean(np.square(out))))
