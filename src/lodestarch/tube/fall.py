"""Compiled kernels of the fall along a stored curve: seconds and their slopes.

Heat, swelling and enzyme do not depend on activity, nor on the four constants q, H, t_ref and b. With the
means over shells kept once as a curve (time, L, L', Q, Q', Y, Y'), a reading for any of these five is one
quadrature, and so is its slope: with z(FN) = 1,

    dFN/dθ = -(∂z/∂θ)/z'(FN),   ∂z/∂θ = ∫ e^S (∂S/∂θ) dt  (nothing where the speed is capped).

This file stands by itself, for the reason given in ``kernels``.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from lodestarch.common.arrays import FloatArray
from lodestarch.tube.jit import across, compiled, parallel

GAUSS_X: Final = (-0.8611363115940526, -0.33998104358485626, 0.33998104358485626, 0.8611363115940526)
GAUSS_W: Final = (0.34785484513745385, 0.6521451548625461, 0.6521451548625461, 0.34785484513745385)

# The five numbers of a fall, in this order: q, H/R, ln t_ref, reach (b A C_A), ln v_max. The first four have
# slopes.
SLOPES: Final = 4


@compiled
def cubic(theta: float, h: float, v0: float, d0: float, v1: float, d1: float) -> float:
    """Value at a fraction of a step, from values and slopes at its ends."""
    c2 = 3.0 * (v1 - v0) - h * (2.0 * d0 + d1)
    c3 = 2.0 * (v0 - v1) + h * (d0 + d1)
    return v0 + theta * (h * d0 + theta * (c2 + theta * c3))


@compiled
def pieces(curve: FloatArray, row: int, theta: float, ln_c: float, part: FloatArray) -> None:
    """∂S/∂θ at a fraction of the step from ``row``: for q, H/R, ln t_ref and reach."""
    h = curve[row + 1, 0] - curve[row, 0]
    a, b = curve[row], curve[row + 1]
    part[0] = -cubic(theta, h, a[1], a[2], b[1], b[2]) - ln_c
    part[1] = -cubic(theta, h, a[3], a[4], b[3], b[4])
    part[2] = -1.0
    part[3] = cubic(theta, h, a[5], a[6], b[5], b[6])


@compiled
def along(
    curve: FloatArray, row: int, to: float, ln_c: float, law: FloatArray, part: FloatArray, gained: FloatArray
) -> None:
    """Share fallen over the first ``to`` seconds of a step, then its slopes."""
    h = curve[row + 1, 0] - curve[row, 0]
    for j in range(SLOPES + 1):
        gained[j] = 0.0
    for node in range(4):
        pieces(curve, row, 0.5 * (1.0 + GAUSS_X[node]) * to / h, ln_c, part)
        s = law[0] * part[0] + law[1] * part[1] + law[2] * part[2] + law[3] * part[3]
        weight = 0.5 * to * GAUSS_W[node]
        if s >= law[4]:
            gained[0] += weight * math.exp(law[4])
            continue
        speed = weight * math.exp(s)
        gained[0] += speed
        for j in range(SLOPES):
            gained[j + 1] += speed * part[j]


@compiled
def speed_at(
    curve: FloatArray, row: int, theta: float, ln_c: float, law: FloatArray, part: FloatArray
) -> float:
    """Speed of the fall at a fraction of a step. [1/s]"""
    pieces(curve, row, theta, ln_c, part)
    s = law[0] * part[0] + law[1] * part[1] + law[2] * part[2] + law[3] * part[3]
    return math.exp(min(s, law[4]))


@compiled
def within(
    curve: FloatArray, row: int, z: float, ln_c: float, law: FloatArray, part: FloatArray, gained: FloatArray
) -> float:
    """Seconds into the step at which the share fallen reaches 1: Newton, kept inside a bracket."""
    h: float = curve[row + 1, 0] - curve[row, 0]
    low, high, t = 0.0, h, 0.5 * h
    for _ in range(60):
        along(curve, row, t, ln_c, law, part, gained)
        miss = z + gained[0] - 1.0
        if miss > 0.0:
            high = t
        else:
            low = t
        new = t - miss / speed_at(curve, row, t / h, ln_c, law, part)
        if not (low < new < high):
            new = 0.5 * (low + high)
        moved = abs(new - t)
        t = new
        if moved < 1e-10:
            break
    return t


@compiled
def arrival(curve: FloatArray, rows: int, ln_c: float, law: FloatArray, work: FloatArray) -> float:
    """Seconds of one fall; leaves dFN/dθ in the first four of ``work``."""
    part, gained, total = work[4:8], work[8:13], work[13:18]
    total[:] = 0.0
    at: float = curve[rows - 1, 0]
    for row in range(rows - 1):
        h = curve[row + 1, 0] - curve[row, 0]
        along(curve, row, h, ln_c, law, part, gained)
        if total[0] + gained[0] >= 1.0:
            t = within(curve, row, total[0], ln_c, law, part, gained)
            along(curve, row, t, ln_c, law, part, gained)
            speed = speed_at(curve, row, t / h, ln_c, law, part)
            for j in range(SLOPES):
                work[j] = -(total[j + 1] + gained[j + 1]) / speed
            at = curve[row, 0]
            return at + t
        for j in range(SLOPES + 1):
            total[j] += gained[j]
    speed = speed_at(curve, rows - 2, 1.0, ln_c, law, part)
    rest: float = (1.0 - total[0]) / speed
    slope = 0.0 if speed >= math.exp(law[4]) else rest * speed
    for j in range(SLOPES):
        work[j] = -(total[j + 1] + slope * part[j]) / speed
    return at + rest


@parallel
def arrivals(
    curves: FloatArray, rows: FloatArray, ln_c: FloatArray, which: FloatArray, laws: FloatArray,
    seconds: FloatArray, slopes: FloatArray,
) -> None:  # fmt: skip
    """Seconds and slopes of many falls; ``which`` names the curve of each law."""
    blocks = (laws.shape[0] + 63) // 64
    for block in across(blocks):
        work = np.empty(18)
        for i in range(block * 64, min(block * 64 + 64, laws.shape[0])):
            k = int(which[i])
            seconds[i] = arrival(curves[k], int(rows[k]), ln_c[k], laws[i], work)
            for j in range(SLOPES):
                slopes[i, j] = work[j]
