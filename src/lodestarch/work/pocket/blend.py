"""What a mix of lots is computed to read, and the share that reaches a target."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from lodestarch.common.errors import NoAnswer, OutOfRange
from lodestarch.common.findings import Finding, Severity, Value, Where, of_range
from lodestarch.common.nomenclature import legal_range
from lodestarch.method.blend import CAP_S, Lot, Mix, Reach, blend, share_to_reach
from lodestarch.method.reading import Kind, parse_seconds

__all__ = ["BlendAnswer", "blend_for", "reach_for", "read_lot"]

_LOT: Final = re.compile(r"^(?P<fn>[^:]+):(?P<mass>[^:@]+)(?:@(?P<moisture>.+))?$")


@dataclass(frozen=True, slots=True)
class BlendAnswer:
    """A mix, or a share, with findings; ``None`` where there is none."""

    lots: tuple[Lot, ...]
    mix: Mix | None
    reach: Reach | None
    cap_s: float | None
    floor_s: float | None
    findings: tuple[Finding, ...]


def _number(text: str) -> float | None:
    try:
        return float(text.strip().replace(",", "."))
    except ValueError:
        return None


def read_lot(text: str, floor_s: float | None) -> Lot | Finding:
    """Read ``400:50`` or ``<=62:5@13.5``: seconds, mass, and moisture in per cent where it is stated."""
    where = Where(field="lot")
    match = _LOT.match(text.strip())
    seconds = parse_seconds(match["fn"]) if match else None
    mass = _number(match["mass"]) if match else None
    moisture = _number(match["moisture"]) if match and match["moisture"] else None
    if match is None or seconds is None or mass is None or (match["moisture"] and moisture is None):
        return Finding("lot-unreadable", where, Severity.STOP, {"value": text})
    if not mass > 0.0:
        return Finding("lot-mass", where, Severity.STOP, {"value": text})
    low, high = legal_range("seconds")
    if not low <= seconds.value_s <= high:
        values: dict[str, Value] = {"value": text, "seconds": seconds.value_s, "low_s": low, "high_s": high}
        return Finding("lot-seconds", where, Severity.STOP, values)
    kind = seconds.kind
    if floor_s is not None and kind is Kind.EXACT and seconds.value_s <= floor_s:
        kind = Kind.AT_OR_BELOW
    return Lot(seconds.value_s, mass, kind, moisture)


def blend_for(
    lots: Sequence[str], *, cap_s: float | None = CAP_S, floor_s: float | None = 62.0
) -> BlendAnswer:
    """Blend lots given as text.

    Parameters
    ----------
    lots : sequence of str
        ``seconds:mass`` or ``seconds:mass@moisture``; seconds may be ``<=62`` or ``>400``.
    cap_s : float or None
        LN is held constant from here up; ``None`` for the plain law. [s]
    floor_s : float or None
        A lot at or below it enters as "at least LN(floor)"; ``None`` takes seconds as measured. [s]
    """
    read = [read_lot(text, floor_s) for text in lots]
    found = tuple(r for r in read if isinstance(r, Finding))
    good = tuple(r for r in read if isinstance(r, Lot))
    if found or not good:
        if not found:
            found = (Finding("blend-empty", Where(field="lot"), Severity.STOP, {}),)
        return BlendAnswer(good, None, None, cap_s, floor_s, found)
    try:
        mix = blend(good, cap_s=cap_s, censoring=floor_s is not None)
    except (NoAnswer, OutOfRange) as cause:
        return BlendAnswer(good, None, None, cap_s, floor_s, (_finding_of(cause),))
    notes = []
    if mix.capped and cap_s is not None:
        capped: dict[str, Value] = {"cap_s": cap_s, "plain_s": mix.plain_seconds_s, "lots": len(mix.capped)}
        notes.append(Finding("blend-capped", Where(field="lot"), Severity.NOTE, capped))
    if mix.censored:
        bounded: dict[str, Value] = {"lots": len(mix.censored), "of": len(good)}
        notes.append(Finding("blend-censored", Where(field="lot"), Severity.NOTE, bounded))
    return BlendAnswer(good, mix, None, cap_s, floor_s, tuple(notes))


def reach_for(target_s: float, high_s: float, low_s: float, *, cap_s: float | None = CAP_S) -> BlendAnswer:
    """Find the largest share of the low lot with which the mix still reads the target."""
    try:
        reach = share_to_reach(target_s, high_s, low_s, cap_s=cap_s)
    except (NoAnswer, OutOfRange) as cause:
        return BlendAnswer((), None, None, cap_s, None, (_finding_of(cause),))
    return BlendAnswer((), None, reach, cap_s, None, ())


def _finding_of(cause: NoAnswer | OutOfRange) -> Finding:
    if isinstance(cause, NoAnswer):
        return Finding(cause.code, Where(field="lot"), Severity.STOP, cause.values)
    return of_range(cause, Where(field=cause.name))
