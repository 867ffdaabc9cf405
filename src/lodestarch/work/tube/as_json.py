"""Answers on one tube as plain values; keys as in ``docs/json.md``."""

from __future__ import annotations

import math
from dataclasses import fields
from typing import Any, Final

from lodestarch.tube.history import TubeHistory
from lodestarch.tube.landmarks import TEMPERATURES_C, Landmarks
from lodestarch.tube.standing import Limit
from lodestarch.words.tube import limit_text
from lodestarch.work.tube.run import TubeAnswer
from lodestarch.work.tube.schedule import schedule

__all__ = ["history_as_dict", "limits_as_list", "tube_as_dict"]

_STATED: Final = ("share_pct", "mass_g", "moisture_pct", "water_ml", "start_temp_c", "wall_mm", "stir_from_s")


def limits_as_list(limits: tuple[Limit, ...]) -> list[dict[str, str]]:
    """Limits with their sentences."""
    return [{"code": limit.value, "says": limit_text(limit)} for limit in limits]


def _rounded(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)


def _marks(marks: Landmarks | None) -> dict[str, Any]:
    """Landmarks by name; every name is there, whatever came of the run."""
    said: dict[str, Any] = {}
    for f in fields(Landmarks):
        if f.name in {"seconds", "mean_reaches_s"}:
            continue
        value = None if marks is None else getattr(marks, f.name)
        said[f.name] = _rounded(value, 2 if f.name.endswith(("_s", "_c")) else 5)
    reached = marks.mean_reaches_s if marks else tuple((level, None) for level in TEMPERATURES_C)
    said["mean_reaches"] = [{"temp_c": level, "time_s": _rounded(at, 2)} for level, at in reached]
    return said


def tube_as_dict(answer: TubeAnswer) -> dict[str, Any]:
    """One tube without its history; every key is there, null where there is no answer."""
    h = answer.history
    inputs = h.inputs if h is not None else None
    params = answer.params
    stated: dict[str, Any] = {key: getattr(answer.asked, key) for key in _STATED}
    stated["pressure_hpa"] = _rounded(inputs.pressure_hpa, 2) if inputs else None
    stated["elevation_m"] = _rounded(answer.elevation_m, 1)
    stated["decay_85_per_s"] = answer.asked.decay_85_per_s
    origins = inputs.origins if inputs else ()
    stated["origins"] = [{"origin": name, "share": share} for name, share in origins]
    return {
        "seconds": _rounded(h.seconds, 3) if h else None,
        "error_s": _rounded(h.error_s, 6) if h else None,
        "activity": _rounded(h.activity, 4) if h else None,
        "ln": _rounded(h.activity + h.params.offset, 4) if h else None,
        "bath_c": _rounded(h.bath_c, 2) if h else None,
        "set": params.name if params else answer.asked.set_name,
        "standing": params.standing.value if params else None,
        "inputs": stated,
        "landmarks": _marks(answer.marks),
        "limits": limits_as_list(answer.limits),
    }


def _kept(history: TubeHistory, every_s: float) -> list[int]:
    """Rows that a picture needs: no two closer than ``every_s``, where a phase begins, and the last."""
    times = history.time_s.tolist()
    kept = [0]
    for i in range(1, len(times) - 1):
        twin = times[i] == times[i - 1] or times[i] == times[i + 1]
        if twin or times[i + 1] - times[kept[-1]] > every_s + 1e-9:
            kept.append(i)
    return [*kept, len(times) - 1]


def history_as_dict(history: TubeHistory, *, every_s: float = 0.0) -> dict[str, Any]:
    """A history for pictures, rounded to what a picture can show.

    Parameters
    ----------
    history : TubeHistory
    every_s : float
        Longest step between rows that are kept, where the history has finer ones. [s]

    Notes
    -----
    Lists a row a moment: ``time_s``, ``phase`` (0 waiting, 1 stirring, 2 falling), ``temp_c``, ``swollen``,
    ``enzyme_left`` and ``cuts`` by shell from the axis outward, ``glass_c``, ``strength`` (not its
    logarithm), ``share_fallen``; and what does not change: ``weights`` of the shells,
    ``schedule`` of the stirrer.
    """
    h = history
    plan = schedule(h.inputs.stir_from_s)
    kept = _kept(h, every_s)
    return {
        "time_s": [round(t, 3) for t in h.time_s[kept].tolist()],
        "phase": h.phase[kept].tolist(),
        "temp_c": h.temp_c[kept].round(1).tolist(),
        "glass_c": h.glass_c[kept].round(1).tolist(),
        "swollen": h.swollen[kept].round(3).tolist(),
        "enzyme_left": h.enzyme_left[kept].round(3).tolist(),
        "cuts": h.cuts[kept].round(3).tolist(),
        "strength": [round(math.exp(x), 3) for x in h.strength[kept].tolist()],
        "share_fallen": [round(min(share, 1.0), 4) for share in h.share_fallen[kept].tolist()],
        "weights": h.weights.tolist(),
        "schedule": {
            "strokes_per_s": plan.strokes_per_s,
            "from_s": plan.from_s,
            "until_s": plan.until_s,
        },
    }
