"""Method profiles: named, versioned sets of every constant of a method, each with its provenance.

A profile in use never changes; :func:`revise` makes the next version. Results made under profiles with
different ``comparable_key`` never mix.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from itertools import pairwise
from math import isfinite
from types import MappingProxyType
from typing import Any, Final

from lodestarch.common.errors import UnknownName
from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.common.provenance import Provenance
from lodestarch.method.profile_fields import FIELDS, FieldSpec, field_spec

__all__ = [
    "Constants",
    "FieldValue",
    "Pairs",
    "Profile",
    "ProfileField",
    "check_profile",
    "profile_from_document",
    "profile_to_document",
    "revise",
]

Pairs = tuple[tuple[float, float], ...]
FieldValue = float | str | Pairs | None

_ID: Final = re.compile(r"^[a-z0-9]+(?:-[a-z0-9]+)*$")


@dataclass(frozen=True, slots=True)
class ProfileField:
    """One constant of a method: value, unit, provenance and source."""

    key: str
    value: FieldValue
    provenance: Provenance
    source: str
    note: str = ""

    @property
    def unit(self) -> str:
        """Unit of the value, from the table of fields."""
        return field_spec(self.key).unit


@dataclass(frozen=True, slots=True)
class Constants:
    """The values of a profile under typed names; units in the names, meanings in ``profile_fields``."""

    material: str
    cites: str
    base_mass_g: float
    moisture_basis_pct: float | None
    portion_rule: str
    portion_table: Pairs | None
    portion_step_g: float
    mass_tolerance_g: float
    water_ml: float
    water_tolerance_ml: float
    water_temp_c: float
    water_temp_tolerance_c: float
    moisture_min_pct: float
    moisture_max_pct: float
    stirring_s: float
    floor_s: float
    longest_reading_s: float
    tubes: float
    agreement_unit: str
    agreement_limits: Pairs
    on_disagreement: str
    disagreement_rule: str
    rounding_s: float
    least_ground_mass_g: float | None
    longest_grind_delay_h: float | None
    longest_mix_delay_s: float
    shaking: str
    correction_form: str
    correction_coefficients: str | None


@dataclass(frozen=True, slots=True)
class Profile:
    """A method as this lab runs it.

    Parameters
    ----------
    profile_id : str
        Kebab-case, for example ``meal-15``.
    version : int
        From 1.
    title : str
    fields : mapping of str to ProfileField
        Every field of the table.
    based_on : str or None
        ``id@version`` that this one was made from.
    """

    profile_id: str
    version: int
    title: str
    fields: Mapping[str, ProfileField]
    based_on: str | None = None

    @property
    def name(self) -> str:
        """``id@version``, the form in which results refer to it."""
        return f"{self.profile_id}@{self.version}"

    @property
    def constants(self) -> Constants:
        """The values under typed names."""
        return Constants(**{key: field.value for key, field in self.fields.items()})  # type: ignore[arg-type]

    @property
    def comparable_key(self) -> str:
        """What two results must share to be compared: material, portion, basis, rule and water."""
        c = self.constants
        if c.portion_rule == "as-is":
            return self.as_is_key
        basis = "basis not stated" if c.moisture_basis_pct is None else f"{c.moisture_basis_pct:g} % mb"
        return f"{c.material}, {c.base_mass_g:.2f} g at {basis}, {c.portion_rule}, {c.water_ml:g} mL"

    @property
    def as_is_key(self) -> str:
        """The key of results whose portions were the base mass whatever the moisture."""
        c = self.constants
        return f"{c.material}, {c.base_mass_g:.2f} g as is, {c.water_ml:g} mL"

    @property
    def recalled_fields(self) -> tuple[str, ...]:
        """Fields that nobody has yet looked up in a printed standard."""
        return tuple(k for k, f in self.fields.items() if f.provenance is Provenance.RECALLED)


def _parse(spec: FieldSpec, raw: Any) -> FieldValue:
    if raw is None:
        return None
    if spec.kind == "pairs":
        return tuple((float(a), float(b)) for a, b in raw)
    return float(raw) if spec.kind == "number" else str(raw)


def profile_from_document(document: Mapping[str, Any]) -> Profile:
    """Make a profile from its document (TOML or JSON read into plain values).

    Parameters
    ----------
    document : mapping
        Keys ``id``, ``version``, ``title``, ``based_on`` and ``fields``: by key a table with ``value``,
        ``provenance``, ``source`` and ``note``.

    Raises
    ------
    UnknownName
        When a field is not in the table of fields, or one is missing.
    """
    given: Mapping[str, Any] = document["fields"]
    for key in given:
        field_spec(key)
    missing = [k for k, s in FIELDS.items() if k not in given and not s.optional]
    if missing:
        raise UnknownName("value for profile field", missing[0], tuple(given))
    fields = {}
    for key, spec in FIELDS.items():
        entry = given.get(key, {"value": None, "provenance": "derived", "source": "not stated; rule off"})
        fields[key] = ProfileField(
            key,
            _parse(spec, entry.get("value")),
            Provenance(entry["provenance"]),
            str(entry["source"]),
            str(entry.get("note", "")),
        )
    return Profile(
        str(document["id"]),
        int(document["version"]),
        str(document["title"]),
        MappingProxyType(fields),
        document.get("based_on"),
    )


def profile_to_document(profile: Profile) -> dict[str, Any]:
    """Return the document of a profile, the inverse of :func:`profile_from_document`."""
    return {
        "id": profile.profile_id,
        "version": profile.version,
        "title": profile.title,
        "based_on": profile.based_on,
        "fields": {
            key: {
                "value": [list(p) for p in f.value] if isinstance(f.value, tuple) else f.value,
                "provenance": f.provenance.value,
                "source": f.source,
                "note": f.note,
            }
            for key, f in profile.fields.items()
        },
    }


def _field_fault(spec: FieldSpec, value: FieldValue) -> str | None:
    """Why a value cannot stand in a field, as a short code; ``None`` where it can."""
    if value is None:
        return None if spec.optional else "missing"
    if spec.kind == "number":
        fits = isinstance(value, float) and spec.low <= value <= spec.high
        return None if fits and (not spec.choices or f"{value:g}" in spec.choices) else "outside"
    if spec.kind == "choice":
        return None if value in spec.choices else "not-a-choice"
    if spec.kind == "pairs":
        return _pairs_fault(spec, value) if isinstance(value, tuple) else "not-ascending"
    return None if isinstance(value, str) and value.strip() else "missing"


def _pairs_fault(spec: FieldSpec, value: Pairs) -> str | None:
    firsts, seconds = [a for a, _ in value], [b for _, b in value]
    if not all(spec.low <= b <= spec.high for b in seconds):
        return "outside"
    rises = all(isfinite(a) for a in firsts) and all(a < b for a, b in pairwise(firsts))
    # A wetter sample never takes less: a portion that falls is a slip of the keyboard.
    if spec.key == "portion_table":
        rises = rises and all(a <= b for a, b in pairwise(seconds))
    return None if firsts and rises else "not-ascending"


_COHERENCE: Final[tuple[tuple[str, str, Callable[[Constants], bool]], ...]] = (
    ("moisture_max_pct", "moisture_min_pct", lambda c: c.moisture_min_pct < c.moisture_max_pct),
    ("floor_s", "stirring_s", lambda c: c.floor_s >= c.stirring_s),
    ("portion_table", "portion_rule", lambda c: (c.portion_rule != "table") or bool(c.portion_table)),
    (
        "moisture_basis_pct",
        "portion_rule",
        lambda c: (c.portion_rule in {"as-is", "table"}) or c.moisture_basis_pct is not None,
    ),
    ("agreement_limits", "floor_s", lambda c: c.agreement_limits[0][0] <= c.floor_s),
)


def check_profile(profile: Profile) -> tuple[Finding, ...]:
    """Look for values that cannot stand and for fields that contradict each other.

    Returns
    -------
    tuple of Finding
        ``profile-id-illegal``, ``profile-field-illegal`` (values: field, value, why, low, high),
        ``profile-fields-disagree`` (values: field, other), and the findings of
        :func:`lodestarch.method.correction.correction_findings`.
    """
    from lodestarch.method.correction import coefficient_findings  # noqa: PLC0415 - breaks a cycle

    found: list[Finding] = []
    if not _ID.match(profile.profile_id):
        where = Where(source=profile.name, field="id")
        found.append(Finding("profile-id-illegal", where, Severity.STOP, {"value": profile.profile_id}))
    for key, item in profile.fields.items():
        spec = field_spec(key)
        fault = _field_fault(spec, item.value)
        if fault is not None:
            allowed = (
                ", ".join(spec.choices) if spec.choices else f"{spec.low:g} to {spec.high:g} {spec.unit}"
            )
            values = {"name": spec.name, "value": str(item.value), "why": fault, "allowed": allowed.strip()}
            found.append(
                Finding("profile-field-illegal", Where(source=profile.name, field=key), Severity.STOP, values)
            )
    if found:
        return tuple(found)
    for key, other, holds in _COHERENCE:
        if not holds(profile.constants):
            values = {"name": field_spec(key).name, "other": field_spec(other).name}
            where = Where(source=profile.name, field=key)
            found.append(Finding("profile-fields-disagree", where, Severity.STOP, values))
    found.extend(coefficient_findings(profile))
    return tuple(found)


def revise(
    profile: Profile,
    changes: Mapping[str, ProfileField],
    *,
    new_id: str | None = None,
    title: str | None = None,
    version: int | None = None,
) -> Profile:
    """Make a lab's own profile, or the next version of it.

    Parameters
    ----------
    profile : Profile
        What to start from; it does not change.
    changes : mapping of str to ProfileField
        Fields that differ.
    new_id : str or None
        Another id starts at version 1; otherwise the version goes up by one.
    title : str or None
        Another title.
    version : int or None
        The next free version, where versions after ``profile`` exist already.

    Returns
    -------
    Profile
        Look at it with :func:`check_profile` before keeping it.

    Raises
    ------
    UnknownName
        When a change names a field that no profile has.
    """
    for key in changes:
        field_spec(key)
    same = new_id is None or new_id == profile.profile_id
    return replace(
        profile,
        profile_id=new_id or profile.profile_id,
        version=version or (profile.version + 1 if same else 1),
        title=title or profile.title,
        fields=MappingProxyType({**profile.fields, **changes}),
        based_on=profile.name,
    )
