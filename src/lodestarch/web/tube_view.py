"""What the page Tube shows, as values: two tubes, four curves, stills, a story, and what is not known."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from lodestarch.tube.history import TubeHistory
from lodestarch.web.tube_fields import FieldRow, elsewhere, field_rows, hidden_fields
from lodestarch.words.catalogues import term
from lodestarch.words.drawing.svg import Drawing
from lodestarch.words.drawing.tube_curves import KINDS, TubeTrace, time_axis
from lodestarch.words.drawing.tube_cut import tube_cut
from lodestarch.words.drawing.tube_pictures import curves_of
from lodestarch.words.findings import FindingText
from lodestarch.words.numbers import number
from lodestarch.words.tube import landmark_rows, limit_text
from lodestarch.words.tube_page import moment_text, pair_sentence, run_text, story_text, trust_text, tube_text
from lodestarch.words.tube_tables import CurveTable, curve_table, curve_value
from lodestarch.work.tube.pair import STANDARD, TUBES, Pair, moment_of, shape_of
from lodestarch.work.tube.run import TubeAnswer
from lodestarch.work.tube.schedule import LIFTED_S
from lodestarch.work.tube.stories import STORIES, Scene
from lodestarch.work.tube.trace import trace_of

__all__ = ["TubeView", "tube_view"]

_HEIGHTS: Final = (128.0, 124.0, 124.0, 172.0)
"""Of the four curves, at the usual size of letters; the last carries the seconds. [px]"""

_FIRST_SHOWN_S: Final = 120.0
"""What is drawn where nobody has chosen a moment: paste made, both stirrers under way. [s]"""

_STILLS: Final = 6


@dataclass(frozen=True, slots=True)
class Card:
    """One tube: what is in it, what it reads, its picture at the moment shown."""

    key: str
    name: str
    what: tuple[str, ...]
    seconds: str
    picture: Drawing | None
    state: str
    told: str
    """The whole run in a few sentences."""
    stops: tuple[FindingText, ...]
    notes: tuple[FindingText, ...]


@dataclass(frozen=True, slots=True)
class Curve:
    """One curve: its picture, what it is at the moment shown for each tube, and its table."""

    kind: str
    picture: Drawing
    values: tuple[tuple[str, str], ...]
    table: CurveTable


@dataclass(frozen=True, slots=True)
class Still:
    """Both tubes at one time."""

    seconds: str
    pictures: tuple[tuple[str, Drawing], ...]


@dataclass(frozen=True, slots=True)
class StoryView:
    """The step that is told: its text, and the addresses around it."""

    name: str
    title: str
    number: int
    count: int
    text: str
    start_s: float
    stop_s: float

    @property
    def before(self) -> str | None:
        """Address of the step before."""
        return f"/tube?story={self.name}&step={self.number - 1}" if self.number > 1 else None

    @property
    def after(self) -> str | None:
        """Address of the next step."""
        return f"/tube?story={self.name}&step={self.number + 1}" if self.number < self.count else None


@dataclass(frozen=True, slots=True)
class TubeView:
    """The whole page."""

    title: str
    trust: str
    cards: tuple[Card, ...]
    curves: tuple[Curve, ...]
    axis_s: float
    """Where the curves' common axis ends. [s]"""
    end_s: float
    moment_s: float
    rows: tuple[FieldRow, ...]
    hidden: tuple[tuple[str, str], ...]
    stills: tuple[Still, ...]
    moments: tuple[tuple[str, ...], ...]
    """Landmarks, a row each: what, and when in each tube that ran."""
    limits: tuple[str, ...]
    stories: tuple[tuple[str, str], ...]
    """Names and titles."""
    story: StoryView | None


def _reads(history: TubeHistory | None) -> float | None:
    return None if history is None else history.seconds


def _name(i: int) -> str:
    return TUBES[i].upper()


def _picture(history: TubeHistory, time_s: float, name: str) -> Drawing:
    said = {"name": name, "seconds": number(time_s, 0), "state": moment_text(history, time_s)}
    return tube_cut(shape_of(history), moment_of(history, time_s), term("tube-page.still", **said))


def _card(i: int, answer: TubeAnswer, fields: Mapping[str, str], at_s: float) -> Card:
    name, h = _name(i), answer.history
    what = tuple(tube_text(fields, STANDARD))
    stops, notes = elsewhere(answer.findings)
    if h is None or answer.marks is None:
        missing = term("tube-page.no-seconds")
        return Card(TUBES[i], name, what, missing, None, term("tube-page.no-picture"), "", stops, notes)
    told = run_text(name, ", ".join(what), h, answer.marks, LIFTED_S)
    seconds = number(h.seconds, 0)
    state = moment_text(h, at_s)
    return Card(TUBES[i], name, what, seconds, _picture(h, at_s, name), state, told, stops, notes)


def _curves(pair: Pair, at_s: float) -> tuple[tuple[Curve, ...], float]:
    ran = [(i, a) for i, a in enumerate(pair.answers) if a.history is not None and a.marks is not None]
    if not ran:
        return (), 0.0
    traces = [trace_of(a.history, _name(i)) for i, a in ran if a.history is not None]
    marks = [a.marks for _, a in ran if a.marks is not None]
    pictures = curves_of(traces, marks, heights=_HEIGHTS, cursor=True)
    drawn = tuple(
        Curve(kind, picture, _values(kind, traces, at_s), curve_table(kind, traces))
        for kind, (picture, _) in zip(KINDS, pictures, strict=True)
    )
    return drawn, time_axis([t.time_s[-1] for t in traces]).high


def _values(kind: str, traces: list[TubeTrace], at_s: float) -> tuple[tuple[str, str], ...]:
    return tuple(
        (t.name.lower(), term(f"tube-page.value-{kind}", value=curve_value(kind, t, at_s))) for t in traces
    )


def _still_times(pair: Pair) -> list[float]:
    """Before, while heating, when let go, and three times along the way down."""
    if pair.end_s == 0.0:
        return []
    release = 60.0
    down = [release + (pair.end_s - release) * part / 3.0 for part in (1, 2, 3)]
    return [20.0, 40.0, release, *down][:_STILLS]


def _stills(pair: Pair) -> tuple[Still, ...]:
    ran = [(_name(i), h) for i, h in enumerate(pair.histories) if h is not None]
    return tuple(
        Still(number(at, 0), tuple((name, _picture(h, at, name)) for name, h in ran))
        for at in _still_times(pair)
    )


def _moments(pair: Pair) -> tuple[tuple[str, ...], ...]:
    columns = [landmark_rows(a.marks) for a in pair.answers if a.marks is not None]
    return tuple((row[0][0], *(said for _, said in row)) for row in zip(*columns, strict=True))


def _limits(pair: Pair) -> tuple[str, ...]:
    return tuple(limit_text(x) for x in dict.fromkeys(x for a in pair.answers for x in a.limits))


def _story(scene: Scene) -> StoryView:
    name = scene.story.name
    text = story_text(name, scene.step.name, scene.values)
    title = term(f"story.{name}.title")
    return StoryView(name, title, scene.number, len(scene.story.steps), text, scene.start_s, scene.stop_s)


def tube_view(pair: Pair, *, scene: Scene | None, at_s: float | None) -> TubeView:
    """Put the page together.

    Parameters
    ----------
    pair : Pair
    scene : Scene or None
        The step of a story that is told; its pair is the one shown.
    at_s : float or None
        Moment to draw; ``None`` takes the end of the step, or one that shows something. [s]
    """
    if at_s is None:
        at_s = scene.stop_s if scene is not None else _FIRST_SHOWN_S
    at_s = min(max(at_s, 0.0), pair.end_s)
    curves, axis_s = _curves(pair, at_s)
    first, second = pair.histories
    params = next((a.params for a in pair.answers if a.params is not None), None)
    return TubeView(
        title=pair_sentence((_reads(first), _reads(second))),
        trust=trust_text(None if params is None else params.standing),
        cards=tuple(_card(i, a, pair.fields[i], at_s) for i, a in enumerate(pair.answers)),
        curves=curves,
        axis_s=axis_s,
        end_s=pair.end_s,
        moment_s=at_s,
        rows=field_rows(pair),
        hidden=tuple(hidden_fields(pair)),
        stills=_stills(pair),
        moments=_moments(pair),
        limits=_limits(pair),
        stories=tuple((s.name, term(f"story.{s.name}.title")) for s in STORIES),
        story=None if scene is None else _story(scene),
    )
