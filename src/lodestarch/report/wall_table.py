"""The portion for each moisture on one page, for the wall: whole per cents down, tenths across."""

from __future__ import annotations

from collections.abc import Sequence

from lodestarch.method.portion import Portion
from lodestarch.method.profile import Profile
from lodestarch.method.profile_fields import FIELDS
from lodestarch.report.page import rendered
from lodestarch.words.catalogues import DEFAULT_LOCALE, term
from lodestarch.words.numbers import figure, number, tidy

__all__ = ["wall_table_page"]

_MASS_FIELDS = (
    "base_mass_g",
    "moisture_basis_pct",
    "portion_rule",
    "portion_table",
    "mass_tolerance_g",
    "water_ml",
    "water_temp_c",
)


def _grid(rows: Sequence[Portion]) -> list[tuple[str, list[str]]]:
    """Masses by whole per cent, ten to a row; a moisture without a portion is blank."""
    by_tenth = {round(p.moisture_pct * 10): number(p.mass_g, 2) for p in rows}
    wholes = sorted({tenth // 10 for tenth in by_tenth})
    return [(str(w), [by_tenth.get(10 * w + tenth, "") for tenth in range(10)]) for w in wholes]


def wall_table_page(
    rows: Sequence[Portion], profile: Profile, *, demonstration: bool = False, locale: str = DEFAULT_LOCALE
) -> str:
    """Set a wall table.

    Parameters
    ----------
    rows : sequence of Portion
        As ``method.portion.wall_table`` gives them, in steps of 0.1 % moisture.
    profile : Profile
        What they follow from; its rule and what nobody has yet looked up stand on the page.
    demonstration : bool
        Say so on the page.

    Returns
    -------
    str
        One HTML page, landscape.
    """
    c = profile.constants
    mass = figure(c.base_mass_g)
    if c.moisture_basis_pct is None:
        headline = term("paper.wall-as-is", locale, mass=mass)
    else:
        headline = term("paper.wall-basis", locale, mass=mass, pct=figure(c.moisture_basis_pct))
    how = term(
        "paper.wall-how",
        locale,
        tolerance=number(c.mass_tolerance_g, 2),
        water=figure(c.water_ml),
        temperature=figure(c.water_temp_c),
    )
    rule = term(f"rule.{c.portion_rule}", locale)
    notes = [term("paper.wall-rule", locale, rule=rule)]
    recalled = [FIELDS[k].name for k in profile.recalled_fields if k in _MASS_FIELDS]
    if recalled:
        notes.append(term("paper.wall-recalled", locale, fields=", ".join(recalled)))
    if rows:
        low, high = rows[0].moisture_pct, rows[-1].moisture_pct
        notes.append(tidy(term("paper.wall-above", locale, low=figure(low), high=figure(high))))
    return rendered(
        "wall_table.html.j2",
        demonstration=demonstration,
        running=term("paper.wall-running", locale, profile=profile.name, rule=rule),
        locale=locale,
        headline=tidy(headline),
        how=tidy(how),
        rows=_grid(rows),
        notes=notes,
    )
