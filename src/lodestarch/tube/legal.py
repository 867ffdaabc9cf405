"""What may go into a tube: problems as findings, before anything is computed."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from lodestarch.common.errors import OutOfRange
from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.tube.inputs import LEGAL, UNITS, VARIED, TubeArrays, TubeInputs
from lodestarch.tube.origins import origins
from lodestarch.tube.parameters import ParameterSet

__all__ = ["check", "check_arrays", "legal_mask", "require_arrays"]


def _out_of_range(field: str, value: float, **more: float) -> Finding:
    low, high = LEGAL[field]
    # NaN would not survive the way to JSON: it travels as its name.
    shown: Value = value if math.isfinite(value) else repr(value)
    values: dict[str, Value] = {"value": shown, "low": low, "high": high, "unit": UNITS[field], **more}
    return Finding("tube-input-illegal", Where(field=field), Severity.STOP, values)


def _of_activity(inputs: TubeInputs, params: ParameterSet) -> list[Finding]:
    if (inputs.ln is None) == (inputs.activity is None):
        code = "tube-activity-missing" if inputs.ln is None else "tube-activity-twice"
        return [Finding(code, Where(field="ln"), Severity.STOP)]
    if inputs.activity is not None:
        low, high = LEGAL["activity"]
        return [] if low <= inputs.activity <= high else [_out_of_range("activity", inputs.activity)]
    ln = inputs.ln if inputs.ln is not None else math.nan
    low, high = LEGAL["ln"]
    if not low <= ln <= high:
        return [_out_of_range("ln", ln)]
    if ln < params.offset:
        values: dict[str, Value] = {"ln": ln, "offset_ln": params.offset, "set": params.name}
        return [Finding("tube-above-enzyme-free", Where(field="ln"), Severity.STOP, values)]
    return []


def _of_origins(inputs: TubeInputs) -> list[Finding]:
    where = Where(field="origins")
    known = origins()
    found = [
        Finding("tube-origin-unknown", where, Severity.STOP, {"origin": name, "known": ", ".join(known)})
        for name, _ in inputs.origins
        if name not in known
    ]
    shares = [share for _, share in inputs.origins]
    if not shares or not all(share >= 0.0 for share in shares) or abs(sum(shares) - 1.0) > 1e-6:
        total = sum(shares)
        shown = total if math.isfinite(total) else repr(total)
        found.append(Finding("tube-shares-not-one", where, Severity.STOP, {"sum": shown}))
    if inputs.decay_85_per_s is not None and len(inputs.origins) > 1:
        found.append(Finding("tube-decay-of-which", Where(field="decay_85_per_s"), Severity.STOP))
    return found


def check(inputs: TubeInputs, params: ParameterSet) -> tuple[Finding, ...]:
    """Look at one tube before it is run.

    Returns
    -------
    tuple of Finding
        All of severity *stop*; empty when the tube may be run. ``tube-input-illegal`` (a value outside its
        legal range: no water, 0 or 40 % moisture, a vacuum, negative activity),
        ``tube-activity-missing``, ``tube-activity-twice``, ``tube-above-enzyme-free`` (an LN below that of
        the set's enzyme-free meal), ``tube-origin-unknown``, ``tube-shares-not-one``,
        ``tube-decay-of-which`` (one decay entered for several origins).

    Examples
    --------
    >>> from lodestarch.tube.parameters import shipped_set
    >>> [f.where.field for f in check(TubeInputs(ln=24.0, moisture_pct=40.0, water_ml=0.0), shipped_set())]
    ['moisture_pct', 'water_ml']
    """
    found = _of_activity(inputs, params) + _of_origins(inputs)
    for key in VARIED:
        value = getattr(inputs, key)
        if key == "activity" or value is None:
            continue
        low, high = LEGAL[key]
        if not low <= value <= high:
            found.append(_out_of_range(key, value))
    return tuple(found)


def legal_mask(tubes: TubeArrays) -> dict[str, npt.NDArray[np.bool_]]:
    """Return, by input, where it is legal, each in its own shape."""
    masks = {}
    for key in VARIED:
        value = getattr(tubes, key)
        if value is not None:
            low, high = LEGAL[key]
            array = np.asarray(value, dtype=np.float64)
            masks[key] = (array >= low) & (array <= high)
    return masks


def check_arrays(tubes: TubeArrays) -> tuple[npt.NDArray[np.intp], tuple[Finding, ...]]:
    """Look at many tubes before they are run.

    Returns
    -------
    legal : ndarray
        Row numbers of the tubes that may be run, in flat order.
    findings : tuple of Finding
        One ``tube-input-illegal`` an input, with the first offending value and how many there are.
    """
    fine = np.ones(tubes.shape, dtype=bool)
    found = []
    for key, mask in legal_mask(tubes).items():
        bad = ~mask
        if bad.any():
            value = np.asarray(getattr(tubes, key), dtype=np.float64)[bad].flat[0]
            wide = np.broadcast_to(bad, tubes.shape)
            found.append(_out_of_range(key, float(value), tubes=int(wide.sum())))
            fine &= ~wide
    return np.flatnonzero(fine.reshape(-1)), tuple(found)


def require_arrays(tubes: TubeArrays) -> None:
    """Refuse tubes of which one is illegal.

    Raises
    ------
    OutOfRange
        Naming the first input at fault.
    """
    for key in VARIED:
        value = getattr(tubes, key)
        if value is None or np.size(value) == 0:
            continue
        low, high = LEGAL[key]
        # Extremes instead of masks: nothing of the size of the ensemble is made.
        least, most = float(np.min(value)), float(np.max(value))
        if not least >= low:
            raise OutOfRange(key, least, low, high, UNITS[key])
        if not most <= high:
            raise OutOfRange(key, most, low, high, UNITS[key])
