"""A number with its unit, standard uncertainty and provenance."""

from __future__ import annotations

from dataclasses import dataclass

from lodestarch.common.provenance import Provenance

__all__ = ["Measured"]


@dataclass(frozen=True, slots=True)
class Measured:
    """One stated value, as it stands at the edge of a use case.

    Parameters
    ----------
    value : float
        The value in ``unit``.
    unit : str
        Unit symbol as in the nomenclature; ``"1"`` for a pure number.
    u : float or None
        Standard uncertainty in ``unit``; ``None`` means *not evaluated*, never zero.
    provenance : Provenance
        Where the value comes from.
    """

    value: float
    unit: str
    u: float | None
    provenance: Provenance
