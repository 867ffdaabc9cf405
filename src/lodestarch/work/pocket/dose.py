"""A dose of malt from what was typed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from lodestarch.common.errors import NoAnswer, OutOfRange
from lodestarch.common.findings import Finding, Severity, Value, Where, in_order, of_range
from lodestarch.method.blend import CAP_S
from lodestarch.plan.dose import FAR_BEYOND, STICKY_FROM, Dose, Trial, dose_to_reach

__all__ = ["DoseAnswer", "dose_for"]

_ABOUT_300_S: Final = (280.0, 320.0)
"""What counts as about 300 s. [s]  Ours."""


@dataclass(frozen=True, slots=True)
class DoseAnswer:
    """A dose with findings; ``None`` where there is none."""

    target_s: float
    now_s: float
    trials: tuple[Trial, ...]
    dose: Dose | None
    findings: tuple[Finding, ...]


def _trial(text: str) -> Trial | None:
    parts = text.replace(",", ".").split(":")
    try:
        grams, seconds = (float(p) for p in parts)
    except ValueError:
        return None
    return Trial(grams, seconds) if math.isfinite(grams) and math.isfinite(seconds) else None


def dose_for(target_s: float, now_s: float, trials: Sequence[str], *, cv: float = 0.02) -> DoseAnswer:
    """Compute a dose from trials given as ``grams:seconds``.

    Parameters
    ----------
    target_s, now_s : float
        [s]
    trials : sequence of str
        Grams of malt per 100 kg and the seconds they gave: ``50:310``.
    cv : float
        Standard deviation of each reading over its value. [1]
    """
    read = [(text, _trial(text)) for text in trials]
    bad = [
        Finding("dose-trial-unreadable", Where(field="trial"), Severity.STOP, {"value": text})
        for text, trial in read
        if trial is None
    ]
    good = tuple(trial for _, trial in read if trial is not None)
    if bad:
        return DoseAnswer(target_s, now_s, good, None, tuple(bad))
    try:
        dose = dose_to_reach(target_s, now_s, good, cv=cv)
    except NoAnswer as cause:
        finding = Finding(cause.code, Where(field="trial"), Severity.STOP, cause.values)
        return DoseAnswer(target_s, now_s, good, None, (finding,))
    except OutOfRange as cause:
        return DoseAnswer(target_s, now_s, good, None, (of_range(cause, Where(field=cause.name)),))
    return DoseAnswer(target_s, now_s, good, dose, in_order(_notes(dose, now_s, good)))


def _notes(dose: Dose, now_s: float, trials: Sequence[Trial]) -> list[Finding]:
    where = Where(field="dose")
    found = []
    largest = max(t.grams_per_100kg for t in trials)
    if dose.grams_per_100kg > FAR_BEYOND * largest:
        values: dict[str, Value] = {"largest": largest, "dose": dose.grams_per_100kg}
        found.append(Finding("dose-beyond-trials", where, Severity.CHECK, values))
    if dose.high is None:
        found.append(Finding("dose-open", where, Severity.CHECK))
    if dose.grams_per_100kg > STICKY_FROM and _ABOUT_300_S[0] <= now_s <= _ABOUT_300_S[1]:
        values = {"dose": dose.grams_per_100kg, "most": STICKY_FROM}
        found.append(Finding("dose-sticky", where, Severity.CHECK, values))
    if now_s > CAP_S:
        found.append(Finding("dose-above-cap", where, Severity.CHECK, {"now_s": now_s, "cap_s": CAP_S}))
    return found
