"""The loading sheet in words: what stands on the paper that hangs at the gates, whatever sets it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from lodestarch.plan.allocate.answer import Allocation
from lodestarch.plan.allocate.loading import LoadingSheet
from lodestarch.plan.allocate.problem import PlanOffer
from lodestarch.words.catalogues import DEFAULT_LOCALE, term
from lodestarch.words.numbers import figure, number, tidy
from lodestarch.words.plan_reasons import offer_name
from lodestarch.words.times import when

__all__ = ["LoadingPaper", "PaperBlend", "loading_paper"]

_STEPS: Final = 3
_BUSHELS: Final = 5
"""Places of two columns among those of a row."""
_OFF: Final = 1e-4


@dataclass(frozen=True, slots=True)
class PaperBlend:
    """One blend on the paper.

    Parameters
    ----------
    name, total : str
        For whom, and how much in how many loads.
    rows : tuple of tuple of str
        Order, bin, parts, steps of the gate, tonnes, bushels, marks where the gate opens and closes.
    hidden : tuple of int
        Columns that say nothing here: steps where no gate has any, bushels where none can be said.
    ratio, pull : str
        Sentences.
    marks : tuple of str
        Where a sample is pulled, for what is written there by hand.
    """

    name: str
    total: str
    rows: tuple[tuple[str, ...], ...]
    hidden: tuple[int, ...]
    ratio: str
    pull: str
    marks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class LoadingPaper:
    """The whole paper, ready to be set."""

    title: str
    about: str
    made: str
    demonstration: str
    blends: tuple[PaperBlend, ...]
    heads: tuple[str, ...]
    words: dict[str, str]
    settled: str
    caution: str
    note: str


def loading_paper(
    answer: Allocation, made_at: datetime, *, demonstration: bool = False, locale: str = DEFAULT_LOCALE
) -> LoadingPaper:
    """Put a plan on paper.

    Parameters
    ----------
    answer : Allocation
        With a plan; without one the paper has no blends.
    made_at : datetime
    demonstration : bool
        Invented data; the paper says so.
    """
    offers = {o.id: o for o in answer.problem.offers}
    pinned = {(p.bin_id, p.offer_id) for p in answer.problem.pins}
    gates = {b.id: b.gate_step_t for b in answer.problem.bins}
    blends = tuple(_blend(s, offers[s.offer_id], pinned, gates, locale) for s in answer.sheets)
    heads = tuple(
        term(f"loading-sheet.{name}", locale)
        for name in (
            "order",
            "bin",
            "parts",
            "steps",
            "tonnes",
            "bushels",
            "opens",
            "closes",
            "drawn",
            "sign",
        )
    )
    words = {
        name: term(f"loading-sheet.{name}", locale) for name in ("read-here", "written", "date", "no-blends")
    }
    drawn = {(line.bin_id, s.offer_id) for s in answer.sheets for line in s.lines}
    return LoadingPaper(
        title=term("loading-sheet.title", locale),
        about=answer.problem.title,
        made=term("loading-sheet.made", locale, when=when(made_at)),
        demonstration=term("web.demonstration", locale) if demonstration else "",
        blends=blends,
        heads=heads,
        words=words,
        settled=term("loading-sheet.settled", locale) if pinned & drawn else "",
        caution=term("loading-sheet.caution", locale),
        note=term("loading-sheet.paper", locale),
    )


def _steps(tonnes: float, step_t: float | None) -> str:
    r"""A draw in steps of its gate; nothing where it is not a whole number of them.

    Examples
    --------
    >>> _steps(204.0, 2.0), _steps(3.0, 2.0), _steps(3.0, None)
    ('102\xa0×\xa02\xa0t', '', '')
    """
    if not step_t or abs(tonnes / step_t - round(tonnes / step_t)) > _OFF:
        return ""
    return f"{number(round(tonnes / step_t))}\u00a0×\u00a0{figure(step_t, 3)}\u00a0t"


def _blend(
    sheet: LoadingSheet,
    offer: PlanOffer,
    pinned: Iterable[tuple[str, str]],
    gates: Mapping[str, float | None],
    locale: str,
) -> PaperBlend:
    total = term("loading-sheet.total", locale, tonnes=figure(sheet.tonnes, 1))
    if sheet.loads is not None:
        total = term(
            "loading-sheet.total-loads",
            locale,
            tonnes=figure(sheet.tonnes, 1),
            loads=sheet.loads,
            load_t=figure(offer.load_t, 1),
        )
    rows = tuple(
        (
            str(v.order),
            v.bin_id + ("\u00a0*" if (v.bin_id, sheet.offer_id) in set(pinned) else ""),
            str(v.parts),
            _steps(v.tonnes, gates[v.bin_id]),
            number(v.tonnes, 1),
            number(v.bushels),
            number(v.from_t, 1),
            number(v.to_t, 1),
        )
        for v in sheet.lines
    )
    return PaperBlend(
        name=offer_name(offer),
        total=tidy(total),
        rows=rows,
        hidden=_hidden(rows, all(v.bushels is None for v in sheet.lines)),
        ratio=tidy(_ratio(sheet, locale)),
        pull=tidy(_pull(sheet, locale)),
        marks=tuple(number(t) for t in sheet.look_at_t),
    )


def _hidden(rows: tuple[tuple[str, ...], ...], no_bushels: bool) -> tuple[int, ...]:
    steps = () if any(row[_STEPS] for row in rows) else (_STEPS,)
    return (*steps, _BUSHELS) if no_bushels else steps


def _ratio(sheet: LoadingSheet, locale: str) -> str:
    if len(sheet.lines) < 2 or sheet.ratio_fn_s is None:
        return ""
    if sheet.ratio_keeps is False:
        return term("loading-sheet.ratio-short", locale)
    ratio = " : ".join(str(v.parts) for v in sheet.lines)
    bins = " : ".join(v.bin_id for v in sheet.lines)
    return term("loading-sheet.ratio", locale, ratio=ratio, bins=bins, seconds=number(sheet.ratio_fn_s))


def _pull(sheet: LoadingSheet, locale: str) -> str:
    if not sheet.look_at_t:
        return term("loading-sheet.pull-none", locale)
    places = ", ".join(number(t) for t in sheet.look_at_t)
    aim, stop = number(sheet.aim_s), number(sheet.stop_s)
    return term("loading-sheet.pull", locale, places=places, aim=aim, stop=stop)
