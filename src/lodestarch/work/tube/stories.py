"""Stories that the page of the tube can be led through, step by step: which tubes, and from when to when.

What a step says stands in the catalogue under ``story.<name>``, and every figure in it is taken from the runs
of that step: nothing is said that the model has not just answered.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.method.liquefaction import fn_from_ln
from lodestarch.tube.history import FALLING
from lodestarch.work.tube.pair import STANDARD, Pair, run_pair
from lodestarch.work.tube.run import TubeAnswer
from lodestarch.work.tube.typed import typed_run

__all__ = ["STORIES", "Scene", "Step", "Story", "scene", "story_named"]

_RELEASE_S: Final = 60.0

Fields = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a story.

    Parameters
    ----------
    name : str
        Of its text in the catalogue.
    a, b : mapping of str to str
        Fields of the two tubes where they are not the standard tube's.
    start, stop : float or str
        From when to when it is shown: seconds, or ``end-a``, ``end-b``, ``end`` (the later of the two),
        ``half`` (when half of the enzyme is left).
    more : tuple of mapping
        Further tubes that the text names.
    """

    name: str
    a: Fields
    b: Fields
    start: float | str = 0.0
    stop: float | str = "end"
    more: tuple[Fields, ...] = ()


@dataclass(frozen=True, slots=True)
class Story:
    """A question, and the steps that answer it."""

    name: str
    steps: tuple[Step, ...]


@dataclass(frozen=True, slots=True)
class Scene:
    """One step as run: the tubes, from when to when, and the figures that its text names."""

    story: Story
    number: int
    pair: Pair
    start_s: float
    stop_s: float
    values: Mapping[str, float]

    @property
    def step(self) -> Step:
        """The step."""
        return self.story.steps[self.number - 1]


def _e(text: str, **more: str) -> Fields:
    return {"enzyme": text, **more}


_HIGH: Final = "914 m"
"""3,000 ft."""

STORIES: Final = (
    Story(
        "sprout",
        (
            Step("alike", _e("0 %"), _e("0 %")),
            Step("five", _e("0 %"), _e("5 %")),
            Step("same-paste", _e("0 %"), _e("5 %"), 20.0, _RELEASE_S),
            Step("long-lived", _e("0 %"), _e("5 %"), _RELEASE_S, "half"),
            Step("first-costs-most", _e("5 %"), _e("10 %"), more=(_e("0 %"),)),
        ),
    ),
    Story(
        "floor",
        (
            Step("a-minute", _e("0 %"), _e("LN 300"), 0.0, _RELEASE_S),
            Step("as-through-water", _e("0 %"), _e("LN 500"), 50.0, "end-b"),
            Step("twice", _e("LN 250"), _e("LN 500"), 50.0, "end"),
        ),
    ),
    Story(
        "halves",
        (
            Step("two-lots", _e("0 %"), _e("100 %")),
            Step("half-and-half", _e("0 %"), _e("50 %"), more=(_e("100 %"),)),
            Step("ln-adds", _e("100 %"), _e("50 %"), 0.0, "end-b", more=(_e("0 %"),)),
            Step("small-part", _e("0 %"), _e("2.5 %"), more=(_e("100 %"),)),
        ),
    ),
    Story(
        "unknown",
        (
            Step("origin", _e("LN 30"), _e("LN 30", origin="late-maturity")),
            Step("cause", _e("300 s"), _e("327 s", mass_g="6.60")),
            Step("above-400", _e("380 s"), _e("425 s")),
            Step("model", _e("0 %"), _e("5 %"), "end", "end"),
        ),
    ),
    Story(
        "altitude",
        (
            Step("cooler", _e("300 s"), _e("300 s", place=_HIGH)),
            Step("two-ways", _e("300 s"), _e("300 s", place=_HIGH), _RELEASE_S, "half"),
            Step("low", _e("120 s"), _e("120 s", place=_HIGH)),
            Step("weather", _e("300 s", place="1013 hPa"), _e("300 s", place="985 hPa")),
        ),
    ),
)
"""All of them, in the order in which the page names them."""


def story_named(name: str) -> Story | Finding:
    """Return a story, or ``tube-story-unknown`` (check)."""
    for story in STORIES:
        if story.name == name:
            return story
    return Finding("tube-story-unknown", Where(field="story"), Severity.CHECK, {"story": name})


def _of(name: str, answer: TubeAnswer) -> dict[str, float]:
    """Figures of one tube by the names that the texts use."""
    h, marks = answer.history, answer.marks
    if h is None or marks is None:
        raise ValueError("a step of a story that ships cannot be run: " + answer.findings[0].code)
    release = int((h.phase < FALLING).sum())
    return {
        name: h.seconds,
        f"ln_{name}": h.activity + h.params.offset,
        f"activity_{name}": h.activity,
        f"bath_{name}": h.bath_c,
        f"warm_{name}": marks.mean_at_release_c,
        f"mass_{name}": h.inputs.mass_g,
        f"pressure_{name}": h.inputs.pressure_hpa,
        f"half_{name}": marks.enzyme_half_s or h.seconds,
        f"fall_{name}": marks.fall_s,
        f"ln_strength_{name}": float(h.strength[release]),
    }


def _values(pair: Pair, more: tuple[TubeAnswer, ...]) -> dict[str, float]:
    """Figures of all tubes, and what the texts compare."""
    values: dict[str, float] = {}
    for name, answer in zip("abc", (*pair.answers, *more), strict=False):
        values |= _of(name, answer)
    a, b = values["a"], values["b"]
    values |= {
        "apart": abs(a - b),
        "ln_apart": abs(values["ln_a"] - values["ln_b"]),
        "times": values["activity_b"] / values["activity_a"],
        "stiffness": 100.0 * math.exp(values["ln_strength_b"] - values["ln_strength_a"]),
        "cooler": abs(values["bath_a"] - values["bath_b"]),
    }
    if more:
        mean_ln = 0.5 * (values["ln_a"] + values["ln_c"])
        values |= {
            "mean_ac": 0.5 * (a + values["c"]),
            "apart_ac": abs(a - values["c"]),
            "ln_mean": mean_ln,
            "law": float(fn_from_ln(mean_ln)),
        }
    return values


def _at(when: float | str, pair: Pair) -> float:
    if isinstance(when, float):
        return min(when, pair.end_s)
    if when == "end":
        return pair.end_s
    if when == "half":
        halves = [m.enzyme_half_s for a in pair.answers if (m := a.marks) is not None]
        return min(max((h for h in halves if h is not None), default=pair.end_s), pair.end_s)
    history = pair.histories["ab".index(when[-1])]
    return pair.end_s if history is None else min(history.seconds, pair.end_s)


def scene(story: Story, number: int) -> Scene:
    """Run one step of a story.

    Parameters
    ----------
    story : Story
        Of :data:`STORIES`.
    number : int
        From 1; past the last it is the last.
    """
    number = min(max(number, 1), len(story.steps))
    step = story.steps[number - 1]
    pair = run_pair(({**STANDARD, **step.a}, {**STANDARD, **step.b}))
    more = tuple(typed_run({**STANDARD, **fields}) for fields in step.more)
    return Scene(story, number, pair, _at(step.start, pair), _at(step.stop, pair), _values(pair, more))
