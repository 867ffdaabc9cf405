"""An empty bench sheet to write on, for a power cut: typed in afterwards column by column."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from lodestarch.common.nomenclature import QUANTITIES
from lodestarch.method.profile import Profile
from lodestarch.method.reading import CAUSES
from lodestarch.report.page import rendered
from lodestarch.words.catalogues import DEFAULT_LOCALE, term

__all__ = ["COLUMNS", "blank_bench_sheet"]


@dataclass(frozen=True, slots=True)
class _Column:
    key: str
    name: str
    width: str


COLUMNS: Final = (
    "ticket", "sample", "run", "bath", "position", "tube_id", "stirrer_id", "moisture_pct", "mass_g",
    "run_at", "seconds", "set_aside_cause",
)  # fmt: skip
"""Columns of the bench sheet that are written row by row; profile, pressure, correction and analyst are
written once on top."""

_WIDTH: Final = {
    "ticket": "wide",
    "sample": "wide",
    "set_aside_cause": "cause",
    "bath": "narrow",
    "position": "narrow",
}


def _head(key: str, locale: str) -> str:
    """Name of a column with its unit."""
    name = term(f"field.{key}", locale)
    quantity = QUANTITIES.get(key)
    return name if quantity is None else f"{name}, {quantity.unit}"


def blank_bench_sheet(
    profile: Profile | None = None,
    *,
    rows: int = 20,
    demonstration: bool = False,
    locale: str = DEFAULT_LOCALE,
) -> str:
    """Set an empty bench sheet.

    Parameters
    ----------
    profile : Profile or None
        Its name is printed on top, and tubes are numbered as many to a sample as it asks; two without one.
    rows : int
        Tubes; 20 fill one landscape page.
    demonstration : bool
        Say so on each page.

    Returns
    -------
    str
        One HTML page, landscape.
    """
    heads = [
        (term("paper.blank-lab", locale), ""),
        (term("paper.blank-date", locale), ""),
        (term("paper.blank-profile", locale), profile.name if profile else ""),
        (term("paper.blank-pressure", locale), ""),
        (term("paper.blank-corrected", locale), term("paper.blank-yes-no", locale)),
        (term("paper.blank-analyst", locale), ""),
    ]
    columns = [_Column(key, _head(key, locale), _WIDTH.get(key, "")) for key in COLUMNS]
    causes = ", ".join(term(f"cause.{cause}", locale) for cause in CAUSES)
    return rendered(
        "blank_sheet.html.j2",
        demonstration=demonstration,
        running=term("paper.blank-running", locale),
        locale=locale,
        heads=heads,
        columns=columns,
        rows=rows,
        tubes=int(profile.constants.tubes) if profile else 2,
        causes=term("paper.blank-causes", locale, causes=causes),
    )
