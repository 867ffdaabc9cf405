"""Fitting the model to published figures and to a lab's own runs.

- ``observations``: lots, and readings or differences of readings of them.
- ``published``: what the shipped sets were fitted to.
- ``problem``: predictions, residuals and their slopes.
- ``identify``: what the data cannot tell apart.
- ``fit``: least squares.
- ``sampler``, ``posterior``: a Bayesian posterior.

Points used in a fit are calibration residuals, never validation.
"""

from __future__ import annotations
