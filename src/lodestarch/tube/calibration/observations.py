"""What a model is fitted to: lots, and readings of them under stated conditions."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum

from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.common.provenance import Provenance
from lodestarch.tube.inputs import LEGAL, TubeInputs
from lodestarch.tube.legal import check
from lodestarch.tube.parameters import ParameterSet

__all__ = ["LOG_FLOOR_S", "Lot", "Observation", "Scale", "usable"]

LOG_FLOOR_S = 55.0
"""Seconds taken off before the logarithm of a reading is compared. [s]"""


class Scale(StrEnum):
    """On which scale an observation is compared."""

    SECONDS = "seconds"
    LOG = "log"
    """ln(FN - 55): what counts is the part above the stirring time, in relative terms."""


@dataclass(frozen=True, slots=True)
class Lot:
    """A meal, by what is known of its enzyme. At most one of the three.

    Parameters
    ----------
    name : str
        As observations call it.
    activity : float or None
        Known enzyme; 0 for runs with an inhibitor. [1]
    ln : float or None
        Known liquefaction number. [1]
    parts : tuple of (str, float)
        Lots it was blended from, with shares by dry mass.
    """

    name: str
    activity: float | None = None
    ln: float | None = None
    parts: tuple[tuple[str, float], ...] = ()

    @property
    def free(self) -> bool:
        """True where its enzyme is unknown and is fitted along."""
        return self.activity is None and self.ln is None and not self.parts


@dataclass(frozen=True, slots=True)
class Observation:
    """One reading of a lot, or the difference of two.

    Parameters
    ----------
    key : str
        Its name in the list of residuals.
    lot : str
        Name of the lot.
    inputs : TubeInputs
        How it was run; its activity does not count.
    seconds : float
        Reading; or, with ``less``, the reading minus that one. [s]
    u : float
        Standard uncertainty, on the scale of comparison: seconds, or relative to FN - 55.
    scale : Scale
        Scale of comparison; differences are always in seconds.
    less : TubeInputs or None
        How the reading that is subtracted was run, same lot.
    provenance : Provenance
        Where it comes from.
    """

    key: str
    lot: str
    inputs: TubeInputs
    seconds: float
    u: float
    scale: Scale = Scale.SECONDS
    less: TubeInputs | None = None
    provenance: Provenance = field(default=Provenance.MEASURED_HERE)


def _of_lots(lots: Sequence[Lot]) -> list[Finding]:
    found: list[Finding] = []
    names = {lot.name for lot in lots}
    for lot in lots:
        where = Where(field="lot", sample=lot.name)
        said = (lot.activity is not None) + (lot.ln is not None) + bool(lot.parts)
        if said > 1:
            found.append(Finding("tube-lot-said-twice", where, Severity.STOP))
        for key, value in (("activity", lot.activity), ("ln", lot.ln)):
            if value is not None and not LEGAL[key][0] <= value <= LEGAL[key][1]:
                shown = value if math.isfinite(value) else repr(value)
                found.append(Finding("tube-lot-illegal", where, Severity.STOP, {"what": key, "value": shown}))
        if lot.parts:
            total = math.fsum(share for _, share in lot.parts)
            if not (all(share >= 0.0 for _, share in lot.parts) and abs(total - 1.0) <= 1e-6):
                shown = total if math.isfinite(total) else repr(total)
                found.append(Finding("tube-shares-not-one", where, Severity.STOP, {"sum": shown}))
            simple = {other.name for other in lots if not other.parts}
            for part, _ in lot.parts:
                if part not in simple:
                    known = ", ".join(sorted(names))
                    values: dict[str, Value] = {"lot": part, "known": known}
                    found.append(Finding("tube-lot-unknown", where, Severity.STOP, values))
    return found


def usable(
    observations: Sequence[Observation], lots: Sequence[Lot], params: ParameterSet
) -> tuple[tuple[Observation, ...], tuple[Finding, ...]]:
    """Pick the observations that a fit can use, and say why the others were left out.

    Returns
    -------
    observations, findings
        ``tube-lot-unknown``, ``tube-lot-said-twice``, ``tube-lot-illegal``, ``tube-shares-not-one``,
        ``tube-u-not-positive``, ``tube-input-illegal``, ``tube-difference-illegal``, ``tube-run-at-floor`` (a
        reading at or below the floor bounds the enzyme but says no seconds); the key of the observation
        stands as sample.
    """
    found = _of_lots(lots)
    names = {lot.name for lot in lots}
    broken = {f.where.sample for f in found}
    floor_s = params["release_s"] + 1.0 / params["speed_cap_per_s"] + 0.5
    kept = []
    for one in observations:
        where = Where(field="seconds", sample=one.key)
        problems: list[Finding] = []
        if one.lot not in names:
            values = {"lot": one.lot, "known": ", ".join(sorted(names))}
            problems.append(Finding("tube-lot-unknown", where, Severity.STOP, values))
        if not (one.u > 0.0 and math.isfinite(one.u)):
            problems.append(Finding("tube-u-not-positive", where, Severity.STOP, {"u": repr(one.u)}))
        if one.less is None and not floor_s < one.seconds < math.inf:
            told: dict[str, Value] = {"seconds": repr(one.seconds), "floor_s": floor_s}
            problems.append(Finding("tube-run-at-floor", where, Severity.CHECK, told))
        if one.less is not None and not math.isfinite(one.seconds):
            code = "tube-difference-illegal"
            problems.append(Finding(code, where, Severity.STOP, {"seconds": repr(one.seconds)}))
        for tube in (one.inputs, one.less):
            if tube is not None:
                problems.extend(
                    replace(f, where=replace(f.where, sample=one.key))
                    for f in check(tube.with_activity(0.0), params)
                )
        if problems or one.lot in broken:
            found.extend(problems)
        else:
            kept.append(one)
    return tuple(kept), tuple(found)
