"""What the bench method prescribes.

- ``profile``, ``profile_fields``, ``shipped``: every constant of a method as a field with provenance.
- ``signoff``: a lab confirms each field against its own printed standard.
- ``portion``: the mass weighed into a tube, from the moisture.
- ``bath``: boiling point from station pressure, pressure from elevation.
- ``correction``, ``correction_fit``: pressure corrections that a lab enters, and a fit for information.
- ``scatter``: the law of SD by level.
- ``reading``, ``plausible``, ``judge``, ``result``, ``estimate``: from tubes to a result.
- ``liquefaction``, ``blend``: the scale that adds by mass.
"""

from __future__ import annotations
