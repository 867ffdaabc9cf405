"""Units in which the trade states the same grain: test weight, protein, moisture and shrink.

Each convention is named, because two of them give two numbers for one sample.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from lodestarch.common.arrays import Floats
from lodestarch.common.errors import OutOfRange, UnknownName
from lodestarch.common.provenance import Provenance

__all__ = [
    "PROTEIN_BASES",
    "TEST_WEIGHT",
    "Line",
    "ProteinBasis",
    "mass_at_moisture",
    "protein_at",
    "water_shrink_pct",
    "weight_by_volume",
    "weight_by_volume_back",
]


@dataclass(frozen=True, slots=True)
class Line:
    """A conversion y = per x + plus, with where it was read."""

    per: float
    plus: float
    given: str
    """Unit of x."""
    gives: str
    """Unit of y."""
    provenance: Provenance
    source: str


_CGC: Final = "Canadian Grain Commission, test weight conversion"
TEST_WEIGHT: Final[dict[str, Line]] = {
    "arithmetic": Line(
        1.2872, 0.0, "lb/bu", "kg/hl", Provenance.DERIVED, "0.45359237 kg, Winchester bushel 35.2391 L"
    ),
    "us-wheat": Line(1.292, 1.419, "lb/bu", "kg/hl", Provenance.SECONDARY_COPY, "FGIS-PN-97-5, as reprinted"),
    "us-durum": Line(1.292, 0.630, "lb/bu", "kg/hl", Provenance.RECALLED, "FGIS-PN-97-5, recalled"),
    "ca-wheat": Line(0.2012, 1.4767, "g/0.5 L", "kg/hl", Provenance.PUBLISHED, _CGC),
    "ca-durum": Line(0.202, 0.7572, "g/0.5 L", "kg/hl", Provenance.PUBLISHED, _CGC),
    "ca-rye": Line(0.1995, 2.2266, "g/0.5 L", "kg/hl", Provenance.PUBLISHED, _CGC),
    "ca-avery": Line(1.0 / 1.247, 0.0, "kg/hl", "lb/Avery bu", Provenance.PUBLISHED, _CGC),
    "ca-winchester": Line(0.1552, 0.0, "g/0.5 L", "lb/bu", Provenance.PUBLISHED, _CGC),
}
"""Conversions of test weight, by convention. One lb/bu is lb by Winchester bushel."""


@dataclass(frozen=True, slots=True)
class ProteinBasis:
    """The moisture at which a market states protein. [%]"""

    moisture_pct: float
    provenance: Provenance


PROTEIN_BASES: Final[dict[str, ProteinBasis]] = {
    "us-wheat": ProteinBasis(12.0, Provenance.PUBLISHED),
    "us-flour": ProteinBasis(14.0, Provenance.PUBLISHED),
    "eu": ProteinBasis(0.0, Provenance.PUBLISHED),
    "au": ProteinBasis(11.0, Provenance.PUBLISHED),
    "ca": ProteinBasis(13.5, Provenance.RECALLED),
}
"""Australia counts N x 5.7 at its basis."""


def _line(convention: str) -> Line:
    if convention not in TEST_WEIGHT:
        raise UnknownName("convention", convention, tuple(TEST_WEIGHT))
    return TEST_WEIGHT[convention]


def weight_by_volume(value: Floats, convention: str) -> Floats:
    """Convert a test weight by a named convention.

    Parameters
    ----------
    value : float or ndarray
        In the ``given`` unit of the convention.
    convention : str
        Key of :data:`TEST_WEIGHT`.

    Raises
    ------
    UnknownName
        No such convention.

    Examples
    --------
    The same 60 lb/bu:

    >>> round(weight_by_volume(60.0, "us-wheat"), 2), round(weight_by_volume(60.0, "arithmetic"), 2)
    (78.94, 77.23)
    """
    line = _line(convention)
    return line.per * value + line.plus


def weight_by_volume_back(value: Floats, convention: str) -> Floats:
    """Undo :func:`weight_by_volume`.

    Examples
    --------
    >>> round(weight_by_volume_back(78.939, "us-wheat"), 6)
    60.0
    """
    line = _line(convention)
    return (value - line.plus) / line.per


def _moisture(name: str, value: float) -> None:
    if not 0.0 <= value < 100.0:
        raise OutOfRange(name, value, 0.0, 100.0, "%")


def protein_at(protein_pct: Floats, from_moisture_pct: float, to_moisture_pct: float) -> Floats:
    """Protein on another moisture basis. [%]

    Notes
    -----
    P2 = P1 (100 - M2)/(100 - M1).

    Raises
    ------
    OutOfRange
        A moisture outside 0 to 100 %.

    Examples
    --------
    12 % at 12 % moisture, on dry matter:

    >>> round(protein_at(12.0, 12.0, 0.0), 3)
    13.636
    """
    _moisture("from_moisture_pct", from_moisture_pct)
    _moisture("to_moisture_pct", to_moisture_pct)
    return protein_pct * (100.0 - to_moisture_pct) / (100.0 - from_moisture_pct)


def mass_at_moisture(mass: Floats, from_moisture_pct: float, to_moisture_pct: float) -> Floats:
    """Mass of the same dry matter at another moisture. [unit of ``mass``]"""
    _moisture("from_moisture_pct", from_moisture_pct)
    _moisture("to_moisture_pct", to_moisture_pct)
    return mass * (100.0 - from_moisture_pct) / (100.0 - to_moisture_pct)


def water_shrink_pct(from_moisture_pct: float, to_moisture_pct: float, *, handling_pct: float = 0.0) -> float:
    """Mass lost when grain is dried, in per cent of the wet mass.

    Parameters
    ----------
    from_moisture_pct, to_moisture_pct : float
        [%]  ``to`` not above ``from``.
    handling_pct : float
        Loss in handling on top; an elevator states its own. [%]

    Notes
    -----
    100 (M0 - M1)/(100 - M1) + handling; derived from dry matter that stays.

    Raises
    ------
    OutOfRange
        A moisture outside 0 to 100 %, or drying upward.

    Examples
    --------
    >>> round(water_shrink_pct(16.5, 15.5), 3), round(water_shrink_pct(14.5, 13.5), 3)
    (1.183, 1.156)
    """
    _moisture("from_moisture_pct", from_moisture_pct)
    if not 0.0 <= to_moisture_pct <= from_moisture_pct:
        raise OutOfRange("to_moisture_pct", to_moisture_pct, 0.0, from_moisture_pct, "%")
    return 100.0 * (from_moisture_pct - to_moisture_pct) / (100.0 - to_moisture_pct) + handling_pct
