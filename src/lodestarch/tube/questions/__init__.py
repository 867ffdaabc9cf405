"""Questions put to the model: answers for explaining and ranking, never for correcting.

- ``altitude``: what elevation and weather do at this bench.
- ``two_tubes``: one tube or two in one bath.
- ``portion``: what a larger portion would gain.
- ``malt``: how a reading answers to malt.
- ``blend``: blends against the liquefaction-number law, and where that law bends.
- ``carry_over``: what is left of the sample before.
- ``heating``: how fast the slurry warms, as a band.
"""

from __future__ import annotations
