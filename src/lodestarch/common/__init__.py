"""What every room uses: units, measured values, findings, errors, provenance, legal ranges.

Imports nothing else of ours. Contents:

- ``provenance``: where a number comes from.
- ``measured``: a number with unit, standard uncertainty and provenance.
- ``findings``: problems in somebody's data, as values.
- ``errors``: the exception tree for programming and request errors.
- ``nomenclature``: symbol, name, unit and legal range of every quantity.
- ``units``: pressure, elevation, mass and temperature conversions.
- ``rounding``: half-up rounding and the rounding of uncertainties.
- ``arrays``: scalars and arrays through one door.
"""

from __future__ import annotations
