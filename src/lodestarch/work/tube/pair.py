"""The two tubes that the page shows side by side, from text fields."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Final

from lodestarch.method.bath import elevation_from_pressure_m
from lodestarch.tube.composition import charge
from lodestarch.tube.history import TubeHistory
from lodestarch.words.drawing.tube_cut import TubeMoment, TubeShape, stroke_share
from lodestarch.words.findings import as_json
from lodestarch.work.tube.as_json import history_as_dict, tube_as_dict
from lodestarch.work.tube.asked import TubeAsked, state
from lodestarch.work.tube.run import TubeAnswer, run_tube
from lodestarch.work.tube.schedule import schedule
from lodestarch.work.tube.typed import FIELDS, typed_run

__all__ = [
    "DIFFERENT",
    "STANDARD",
    "TUBES",
    "Pair",
    "fields_of",
    "moment_of",
    "other_ways",
    "pair_as_dict",
    "run_pair",
    "shape_of",
]

TUBES: Final = ("a", "b")

STANDARD: Final[Mapping[str, str]] = MappingProxyType(
    {
        "enzyme": "0 %",
        "mass_g": "7.00",
        "moisture_pct": "14",
        "water_ml": "25",
        "start_temp_c": "22",
        "place": "0 m",
    }
)
"""The standard tube in the fields' own words: sound grain at the level of the sea."""

DIFFERENT: Final[Mapping[str, str]] = MappingProxyType({"enzyme": "5 %"})
"""How the second tube differs where nothing is stated."""

_ROWS_EVERY_S: Final = 2.0
"""Longest step between the rows of a history that a page is sent. [s]"""


@dataclass(frozen=True, slots=True)
class Pair:
    """Two tubes: what was typed for each, and what came of it."""

    fields: tuple[Mapping[str, str], Mapping[str, str]]
    answers: tuple[TubeAnswer, TubeAnswer]

    @property
    def end_s(self) -> float:
        """When the later of the two is down; 0 where neither could be run. [s]"""
        return max((a.history.time_s[-1] for a in self.answers if a.history is not None), default=0.0)

    @property
    def histories(self) -> tuple[TubeHistory | None, TubeHistory | None]:
        """What happened in each."""
        return self.answers[0].history, self.answers[1].history


def fields_of(said: Mapping[str, str]) -> tuple[dict[str, str], dict[str, str]]:
    """Sort ``a_mass_g`` and the like by tube; what is missing or empty is the standard tube's."""
    first, second = (
        {key: said[f"{tube}_{key}"].strip() for key in FIELDS if said.get(f"{tube}_{key}", "").strip()}
        for tube in TUBES
    )
    return {**STANDARD, **first}, {**STANDARD, **DIFFERENT, **second}


def run_pair(fields: Sequence[Mapping[str, str]]) -> Pair:
    """Run two tubes.

    Parameters
    ----------
    fields : sequence of mapping of str to str
        Two, each as ``typed_tube`` takes them.
    """
    first, second = fields
    return Pair((first, second), (typed_run(first), typed_run(second)))


def other_ways(answer: TubeAnswer) -> dict[str, float]:
    """What a tube's enzyme and place are by the other ways in which they can be stated.

    Returns
    -------
    dict
        ``ln``; ``reads_s``, what its meal reads under standard conditions; ``share_pct`` of sprouted grain,
        where it lies between sound and sprouted; ``hpa`` and ``m``. Empty where the tube could not be run.
    """
    h = answer.history
    if h is None:
        return {}
    ways = {"ln": h.activity + h.params.offset, "hpa": h.inputs.pressure_hpa}
    height = answer.elevation_m
    ways["m"] = float(elevation_from_pressure_m(h.inputs.pressure_hpa)) if height is None else height
    standard = run_tube(
        TubeAsked(activity=h.activity, origins=answer.asked.origins), step_s=5.0, until_s=70.0
    )
    if standard.history is not None:
        ways["reads_s"] = standard.history.seconds
    sound, sprouted = (state(TubeAsked(share_pct=share)).inputs for share in (0.0, 100.0))
    if sound is not None and sprouted is not None:
        low, high = sound.activity or 0.0, sprouted.activity or 0.0
        share = 100.0 * (h.activity - low) / (high - low)
        if -0.05 <= share <= 100.0:
            ways["share_pct"] = max(share, 0.0)
    return ways


def shape_of(history: TubeHistory) -> TubeShape:
    """What a picture of a tube needs and does not change while it runs."""
    depth_mm = charge(history.inputs, history.params).depth_mm
    shells = len(history.weights)
    return TubeShape(depth_mm, history.inputs.wall_mm, history.bath_c, history.activity, shells)


def _between(rows: Any, i: int, part: float) -> Any:
    """A row of a history, or a place between it and the next one: straight from one to the other."""
    return rows[i] if part == 0.0 else rows[i] + part * (rows[i + 1] - rows[i])


def moment_of(history: TubeHistory, time_s: float) -> TubeMoment:
    """Read a tube off its history at a time; before its first row and after its last it stays as there."""
    t = history.time_s
    i = max(int((t <= time_s).sum()) - 1, 0)
    part = 0.0
    if i < len(t) - 1 and time_s > t[i]:
        part = float((time_s - t[i]) / (t[i + 1] - t[i]))
    plan = schedule(history.inputs.stir_from_s)
    stirring = stroke_share(time_s, plan.strokes_per_s, plan.from_s, plan.until_s)
    fallen = min(float(_between(history.share_fallen, i, part)), 1.0)
    return TubeMoment(
        _between(history.temp_c, i, part).tolist(),
        float(_between(history.glass_c, i, part)),
        _between(history.swollen, i, part).tolist(),
        _between(history.enzyme_left, i, part).tolist(),
        _between(history.cuts, i, part).tolist(),
        max(fallen, stirring),
    )


def pair_as_dict(pair: Pair) -> dict[str, Any]:
    """Both tubes with their histories, for a page's script; keys as in ``docs/json.md``."""
    tubes = []
    for name, answer in zip(TUBES, pair.answers, strict=True):
        history = None if answer.history is None else history_as_dict(answer.history, every_s=_ROWS_EVERY_S)
        tubes.append(
            {
                "tube": name,
                **tube_as_dict(answer),
                "history": history,
                "findings": [as_json(f) for f in answer.findings],
            }
        )
    return {"tubes": tubes}
