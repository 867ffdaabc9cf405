"""What happens in the tube, from lowering to the end of the fall.

- ``parameters``, ``origins``: named constants with their standing, and where the enzyme comes from.
- ``inputs``, ``legal``, ``composition``: what goes in, what may go in, what it is made of.
- ``heat``, ``reference``: the equations in plain NumPy, solved by SciPy at tight tolerance.
- ``kernels``, ``fall``, ``lanes``: the same by closed form and quadrature, compiled.
- ``ensemble``, ``curves``: seconds of many tubes; readings along a stored curve with their slopes.
- ``history``, ``landmarks``: one tube in full, and the moments a picture of it is told by.
- ``sensitivity``, ``bench``, ``budget``, ``shares``: how inputs move a reading, and how much of its scatter
  each explains.
- ``questions``: altitude, shared baths, portions, malt, blends, carry-over, heating.
- ``calibration``: fits, posteriors, and what data cannot tell apart.
- ``standing``, ``trust``: what an output does not know.
- ``warm``: kernels made ready before somebody waits for them.

The model explains and ranks. It never corrects a result. Its equations: docs/tube-model.md.
"""

from __future__ import annotations

from lodestarch.tube.ensemble import seconds
from lodestarch.tube.history import Run, TubeHistory, run
from lodestarch.tube.inputs import TubeArrays, TubeInputs
from lodestarch.tube.parameters import ParameterSet, shipped_set

__all__ = ["ParameterSet", "Run", "TubeArrays", "TubeHistory", "TubeInputs", "run", "seconds", "shipped_set"]
