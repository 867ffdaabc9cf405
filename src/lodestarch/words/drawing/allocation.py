"""A row a contract: its tonnes as a bar made of its bins, and what the blend is computed to read."""

from __future__ import annotations

from typing import Final

from lodestarch.plan.allocate.answer import Allocation
from lodestarch.plan.allocate.blend_value import BlendValue
from lodestarch.plan.allocate.problem import FN
from lodestarch.words.catalogues import DEFAULT_LOCALE, term
from lodestarch.words.drawing.svg import Drawing, element, finished, percent, text
from lodestarch.words.numbers import DASH, figure, number, tidy

__all__ = ["allocation_rows"]

_ROW_PX: Final = 92.0
_BAR_PX: Final = 26.0
_NARROW: Final = 0.075
"""Share of the width below which a part of a bar carries no letters."""


def allocation_rows(answer: Allocation, locale: str = DEFAULT_LOCALE) -> tuple[Drawing, float]:
    """Draw a plan and return the picture with its height in pixels; empty where there is no plan."""
    blends = answer.blends
    used = len({d.bin_id for d in answer.plan.draws}) if answer.plan is not None else 0
    title = term("allocate.picture", locale, contracts=len(blends), bins=used)
    if answer.plan is None or not blends:
        return Drawing("", title), 0.0
    widest = max(b.tonnes for b in blends)
    parts = []
    for i, blend in enumerate(blends):
        parts += _row(answer, blend, _ROW_PX * i, widest, locale)
    height = _ROW_PX * len(blends)
    return finished(parts, height, title), height


def _row(answer: Allocation, blend: BlendValue, top: float, widest: float, locale: str) -> list[str]:
    said = term(
        "allocate.picture-row", locale, contract=blend.offer_id, tonnes=f"{figure(blend.tonnes, 1)} t"
    )
    parts = [text(tidy(said), "0", top + 18.0, "mark-label strong")]
    at = 0.0
    for sheet in (s for s in answer.sheets if s.offer_id == blend.offer_id):
        for line in sheet.lines:
            wide = line.tonnes / widest
            x = percent(at)
            parts.append(
                element("rect", x=x, y=top + 26.0, width=percent(wide), height=_BAR_PX, class_="part")
            )
            if wide >= _NARROW:
                parts.append(
                    text(f"{line.bin_id} {figure(line.tonnes, 0)}", x, top + 44.0, "mark-label", dx=6.0)
                )
            at += wide
    parts.append(text(_reads(answer, blend, locale), "0", top + 72.0, "tick-number"))
    return parts


def _reads(answer: Allocation, blend: BlendValue, locale: str) -> str:
    floor = next((v for v in blend.limits if v.factor == FN and v.at_least), None)
    if blend.fn_s is None or floor is None:
        return term("allocate.picture-no-limit", locale)
    there = (
        next((o.passes for o in answer.odds.offers if o.offer_id == blend.offer_id), None)
        if answer.odds
        else None
    )
    values = {
        "seconds": f"{number(blend.fn_s)} s",
        "low": number(blend.fn_low_s),
        "high": number(blend.fn_high_s),
        "aim": f"{number(floor.aim)} s",
        "odds": DASH if there is None else number(there, 2),
    }
    return tidy(term("allocate.picture-reads", locale, **values))
