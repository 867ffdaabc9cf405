"""The fields of a method profile: one line each, with type, unit, legal range and meaning.

Forms, docs, sign-off pages and the checks of a lab's own profile all read this table.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from lodestarch.common.errors import UnknownName

__all__ = ["FIELDS", "FieldKind", "FieldSpec", "field_spec"]

FieldKind = Literal["number", "text", "choice", "pairs"]


@dataclass(frozen=True, slots=True)
class FieldSpec:
    """One field of a profile.

    ``kind``: *number* (low to high, and one of ``choices`` where it has any), *text*, *choice* (one of
    ``choices``) or *pairs* (a list of two numbers each, ascending in the first, the second from low to high).
    ``optional`` fields may be absent, and then the rule they feed is off.
    """

    key: str
    name: str
    kind: FieldKind
    unit: str
    meaning: str
    low: float = float("-inf")
    high: float = float("inf")
    choices: tuple[str, ...] = ()
    optional: bool = False


def _number(key: str, name: str, unit: str, low: float, high: float, meaning: str, *,
            optional: bool = False) -> FieldSpec:  # fmt: skip
    return FieldSpec(key, name, "number", unit, meaning, low, high, (), optional)


_SPECS: Final = (
    FieldSpec("material", "material", "choice", "", "What goes into the tube.",
              choices=("wholemeal", "flour", "semolina")),
    FieldSpec("cites", "standard", "text", "", "The printed method that a signed-off profile cites."),
    _number("base_mass_g", "base portion", "g", 1, 20, "Test portion at the moisture basis."),
    _number("moisture_basis_pct", "moisture basis", "%", 0, 20,
            "Moisture at which the base portion holds; absent for portions weighed as is.", optional=True),
    FieldSpec("portion_rule", "portion rule", "choice", "",
              "How the portion follows from the moisture.",
              choices=("dry-matter-to-total-water", "dry-matter", "table", "as-is")),
    FieldSpec("portion_table", "portion table", "pairs", "% and g",
              "Rows of the lab's printed table: moisture and grams; between rows linear, outside none.",
              1, 20, optional=True),
    _number("portion_step_g", "portion rounded to", "g", 0.001, 0.1, "Step of the portion shown."),
    _number("mass_tolerance_g", "mass tolerance", "g", 0.001, 0.5,
            "How far a weighed portion may lie from the one wanted, either way."),
    _number("water_ml", "water", "mL", 10, 50, "Distilled water added."),
    _number("water_tolerance_ml", "water tolerance", "mL", 0, 2, "Either way."),
    _number("water_temp_c", "water temperature", "°C", 5, 40, "When added."),
    _number("water_temp_tolerance_c", "water temperature tolerance", "°C", 0, 15, "Either way."),
    _number("moisture_min_pct", "least moisture", "%", 0, 30, "Below it the method has no portion."),
    _number("moisture_max_pct", "greatest moisture", "%", 0, 30, "Above it the sample is dried first."),
    _number("stirring_s", "stirring time", "s", 1, 120,
            "From lowering to release, waiting included; below it a reading is impossible."),
    _number("floor_s", "floor", "s", 1, 150, "At or below it a reading says only 'at or below'."),
    _number("longest_reading_s", "longest reading", "s", 200, 6000,
            "Above it a number is taken for a slip of the keyboard."),
    FieldSpec("tubes", "tubes", "number", "1", "Readings that a result needs.", 1, 10,
              tuple(str(n) for n in range(1, 11))),
    FieldSpec("agreement_unit", "agreement limit in", "choice", "",
              "Whether the agreement limits are per cent of the mean or seconds.", choices=("%", "s")),
    FieldSpec("agreement_limits", "agreement limits", "pairs", "s and % or s",
              "From which level, which limit for the difference of a pair.", 0.1, 100),
    FieldSpec("on_disagreement", "when a pair disagrees", "choice", "",
              "What the bench runs next.", choices=("fresh-pair", "third-tube")),
    FieldSpec("disagreement_rule", "rule for more than one pair", "choice", "",
              "all-count: mean of all where their range is within the factor for n, else the median. "
              "fresh-pair-alone: the last pair that agrees.",
              choices=("all-count", "fresh-pair-alone")),
    _number("rounding_s", "result rounded to", "s", 0.1, 10, "Halves away from zero."),
    _number("least_ground_mass_g", "least ground mass", "g", 1, 5000, "Grain to grind for one sample.",
            optional=True),
    _number("longest_grind_delay_h", "longest delay after grinding", "h", 0.1, 1000,
            "Between grinding and lowering.", optional=True),
    _number("longest_mix_delay_s", "longest delay after shaking", "s", 1, 600,
            "Between shaking and lowering."),
    FieldSpec("shaking", "shaking", "choice", "", "How the tube is shaken.",
              choices=("by machine", "by hand", "either")),
    FieldSpec("correction_form", "pressure correction", "choice", "",
              "Form of the correction that the lab has entered; none is active as shipped.",
              choices=("none", "proportional", "log-linear-elevation", "polynomial")),
    FieldSpec("correction_coefficients", "correction coefficients", "text", "",
              "Numbers parted by blanks, in the order of the form; empty for none.", optional=True),
)  # fmt: skip

FIELDS: Final[dict[str, FieldSpec]] = {spec.key: spec for spec in _SPECS}


def field_spec(key: str) -> FieldSpec:
    """Return the line for ``key``.

    Raises
    ------
    UnknownName
        When no profile has such a field.
    """
    try:
        return FIELDS[key]
    except KeyError:
        raise UnknownName("profile field", key, tuple(FIELDS)) from None
