"""One input moved from one end to another, all else kept."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.tube.inputs import UNITS
from lodestarch.tube.standing import Limit
from lodestarch.tube.trust import with_limits
from lodestarch.work.tube.asked import TubeAsked
from lodestarch.work.tube.run import run_tube

__all__ = ["SWEPT", "Sweep", "SweepRow", "sweep_tube"]

_STEPS: Final = (2, 1001)


def _enzyme(asked: TubeAsked, **way: float) -> TubeAsked:
    """The tube with its enzyme stated one way, whatever it was stated by before."""
    return replace(asked, **{"ln": None, "activity": None, "share_pct": None, "reads_s": None, **way})  # type: ignore[arg-type]  # keys are those of the class


_Set = Callable[[TubeAsked, float], TubeAsked]
_SETS: Final[dict[str, tuple[str, _Set]]] = {
    "ln": (UNITS["ln"], lambda tube, x: _enzyme(tube, ln=x)),
    "activity": (UNITS["activity"], lambda tube, x: _enzyme(tube, activity=x)),
    "share_pct": ("%", lambda tube, x: _enzyme(tube, share_pct=x)),
    "mass_g": (UNITS["mass_g"], lambda tube, x: replace(tube, mass_g=x)),
    "moisture_pct": (UNITS["moisture_pct"], lambda tube, x: replace(tube, moisture_pct=x)),
    "water_ml": (UNITS["water_ml"], lambda tube, x: replace(tube, water_ml=x)),
    "start_temp_c": (UNITS["start_temp_c"], lambda tube, x: replace(tube, start_temp_c=x)),
    "pressure_hpa": (
        UNITS["pressure_hpa"],
        lambda tube, x: replace(tube, place=f"{x:.9g} hPa", pressure_is="station"),
    ),
    "elevation_m": ("m", lambda tube, x: replace(tube, place=f"{x:.9g} m")),
    "wall_mm": (UNITS["wall_mm"], lambda tube, x: replace(tube, wall_mm=x)),
    "stir_from_s": (UNITS["stir_from_s"], lambda tube, x: replace(tube, stir_from_s=x)),
    "decay_85_per_s": (UNITS["decay_85_per_s"], lambda tube, x: replace(tube, decay_85_per_s=x)),
}
_MORE: Final[dict[str, tuple[Limit, ...]]] = {
    "mass_g": (Limit.FLOUR_NOT_MEAL, Limit.SATURATION_OPEN),
    **dict.fromkeys(
        ("water_ml", "start_temp_c", "wall_mm", "stir_from_s", "share_pct"), (Limit.NO_MEASUREMENT,)
    ),
}
"""What a sweep of an input does not know, beyond what one run does not."""

SWEPT: Final = tuple(_SETS)
"""What can be swept."""


@dataclass(frozen=True, slots=True)
class SweepRow:
    """One value of the swept input, and what the tube then reads. [s]"""

    value: float
    seconds: float


@dataclass(frozen=True, slots=True)
class Sweep:
    """A sweep.

    Parameters
    ----------
    key, unit : str
        What was swept; empty where it cannot be.
    rows : tuple of SweepRow
        Values at which the tube can be.
    error_s : float or None
        Largest numerical error of the seconds. [s]
    findings : tuple of Finding
        One a kind, with how many values it holds for.
    limits : tuple of Limit
    """

    key: str
    unit: str
    rows: tuple[SweepRow, ...]
    error_s: float | None
    findings: tuple[Finding, ...]
    limits: tuple[Limit, ...]


def _key(name: str) -> str | None:
    """The input that a name means: whole, or its first word (``mass`` is ``mass_g``)."""
    plain = name.strip().lower().replace("-", "_")
    return next((key for key in SWEPT if plain in {key, key.rsplit("_", 1)[0], key.split("_", 1)[0]}), None)


def sweep_tube(name: str, first: float, last: float, steps: int, asked: TubeAsked) -> Sweep:
    """Sweep one input.

    Parameters
    ----------
    name : str
        One of ``SWEPT``, or its first word.
    first, last : float
        Ends, in the unit of the input; either may be the larger.
    steps : int
        Values, ends included. 2 to 1001.
    asked : TubeAsked
        Everything else.

    Returns
    -------
    Sweep
        ``tube-sweep-unknown``, ``tube-sweep-steps`` (stop); and for values that cannot be, one finding a
        kind with their number as ``tubes``. What can be computed is computed.
    """
    key = _key(name)
    if key is None:
        told: dict[str, Value] = {"input": name, "known": ", ".join(SWEPT)}
        return Sweep("", "", (), None, (Finding("tube-sweep-unknown", Where(), Severity.STOP, told),), ())
    unit, at = _SETS[key]
    if not _STEPS[0] <= steps <= _STEPS[1]:
        told = {"steps": steps, "low": _STEPS[0], "high": _STEPS[1]}
        odd = Finding("tube-sweep-steps", Where(field="steps"), Severity.STOP, told)
        return Sweep(key, unit, (), None, (odd,), ())
    rows: list[SweepRow] = []
    met: dict[tuple[str, str | None], tuple[Finding, int]] = {}
    limits: dict[Limit, None] = {}
    errors: list[float] = []
    for i in range(steps):
        value = first + (last - first) * i / (steps - 1)
        answer = run_tube(at(asked, value), step_s=5.0, until_s=70.0)
        limits |= dict.fromkeys(answer.limits)
        if answer.history is not None:
            rows.append(SweepRow(value, answer.history.seconds))
            errors.append(answer.history.error_s)
        for finding in answer.findings:
            if finding.code == "tube-past-history":  # the history is not wanted here
                continue
            kind = (finding.code, finding.where.field)
            before = met.get(kind, (finding, 0))
            met[kind] = (before[0], before[1] + 1)
    more = _MORE.get(key, ()) if rows else ()
    found = tuple(replace(f, values={**f.values, "tubes": count}) for f, count in met.values())
    return Sweep(key, unit, tuple(rows), max(errors, default=None), found, with_limits(tuple(limits), *more))
