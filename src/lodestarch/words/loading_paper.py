"""The loading sheet in words: what stands on the paper that hangs at the gates, whatever sets it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from lodestarch.plan.allocate.answer import Allocation
from lodestarch.plan.allocate.loading import LoadingSheet
from lodestarch.plan.allocate.problem import PlanOffer
from lodestarch.words.catalogues import DEFAULT_LOCALE, term
from lodestarch.words.numbers import figure, number, tidy
from lodestarch.words.plan_reasons import offer_name
from lodestarch.words.times import when

__all__ = ["LoadingPaper", "PaperBlend", "loading_paper"]


@dataclass(frozen=True, slots=True)
class PaperBlend:
    """One blend on the paper.

    Parameters
    ----------
    name, total : str
        For whom, and how much in how many loads.
    rows : tuple of tuple of str
        Order, bin, parts, tonnes, bushels, mark where the gate opens, mark where it closes.
    bushels : bool
        The column of bushels says something.
    ratio, pull : str
        Sentences.
    marks : tuple of str
        Where a sample is pulled, for what is written there by hand.
    """

    name: str
    total: str
    rows: tuple[tuple[str, ...], ...]
    bushels: bool
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
    blends = tuple(_blend(s, offers[s.offer_id], pinned, locale) for s in answer.sheets)
    heads = tuple(
        term(f"loading-sheet.{name}", locale)
        for name in ("order", "bin", "parts", "tonnes", "bushels", "opens", "closes", "drawn", "sign")
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


def _blend(
    sheet: LoadingSheet, offer: PlanOffer, pinned: Iterable[tuple[str, str]], locale: str
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
        bushels=any(v.bushels is not None for v in sheet.lines),
        ratio=tidy(_ratio(sheet, locale)),
        pull=tidy(_pull(sheet, locale)),
        marks=tuple(number(t) for t in sheet.look_at_t),
    )


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
