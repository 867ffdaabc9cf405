"""What happens in the tube, from lowering to the end of the fall.

- ``parameters``, ``origins``: named constants with their standing, and where the enzyme comes from.
- ``inputs``, ``legal``, ``composition``: what goes in, what may go in, what it is made of.
- ``heat``, ``reference``: the equations in plain NumPy, solved by SciPy at tight tolerance.
- ``kernels``, ``fall``: the same by closed form and quadrature, compiled.
- ``ensemble``, ``curves``: seconds of many tubes; readings along a stored curve with their slopes.

The model explains and ranks. It never corrects a result.
"""

from __future__ import annotations
