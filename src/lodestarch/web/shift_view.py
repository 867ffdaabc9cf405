"""The list at the start of a shift as its template takes it."""

from __future__ import annotations

from dataclasses import dataclass

from lodestarch.common.nomenclature import quantity
from lodestarch.control.upkeep_items import ShiftLine
from lodestarch.web.control_view import LineView, line_view
from lodestarch.words import control as said
from lodestarch.words.catalogues import term
from lodestarch.words.numbers import by_suffix
from lodestarch.words.times import when
from lodestarch.work.quality.bench_now import BenchWatchNow

__all__ = ["ShiftItemView", "ShiftView", "shift_view"]

_ASKED = {"pressure_hpa": "shift.pressure", "mass_g": "shift.mass", "water_ml": "shift.water"}


@dataclass(frozen=True, slots=True)
class ShiftItemView:
    """One item: what it says, what is typed with it, and its tick."""

    item: str
    words: str
    asked: str
    ticked: str
    off: str
    first: bool


@dataclass(frozen=True, slots=True)
class ShiftView:
    """The page."""

    sentence: str
    began: str
    items: tuple[ShiftItemView, ...]
    checks: tuple[str, ...]
    upkeep: tuple[tuple[str, str, str], ...]
    line: LineView


def _ticked(line: ShiftLine) -> str:
    tick = line.tick
    if tick is None:
        return ""
    at, by = said.clock(tick.at), tick.by
    if tick.value is None:
        return term("shift.ticked", at=at, by=by)
    value, unit = by_suffix(line.item.quantity, tick.value), quantity(line.item.quantity).unit
    return term("shift.ticked-value", value=value, unit=unit, at=at, by=by)


def shift_view(watch: BenchWatchNow) -> ShiftView:
    """Return the page's values; the first open item takes the cursor."""
    left = watch.shift_open
    first = next((line.item.item for line in watch.shift if line.tick is None), "")
    if left > 1:
        sentence = term("shift.sentence-open", left=left)
    else:
        sentence = term("shift.sentence-one" if left else "shift.sentence-done")
    return ShiftView(
        sentence,
        term("shift.began", at=when(watch.began)),
        tuple(
            ShiftItemView(
                line.item.item,
                term(f"shift.item.{line.item.item}"),
                term(_ASKED[line.item.quantity]) if line.item.quantity else "",
                _ticked(line),
                term("shift.off", note=line.tick.note) if line.tick and not line.tick.held else "",
                line.item.item == first,
            )
            for line in watch.shift
        ),
        tuple(said.due_words(d) for d in watch.due),
        tuple(
            (u.interval.item, said.item_words(u.interval.item), said.when_due(u.due))
            for u in watch.upkeep
            if u.due.due
        ),
        line_view(watch),
    )
