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


# Rows of the cubics of a step, in powers of the fraction of the step: ∂S/∂q, ∂S/∂(H/R), ∂S/∂reach, S.
BY_Q: Final = 0
BY_HEAT: Final = 1
BY_REACH: Final = 2
SPEED: Final = 3


@compiled
def one_cubic(
    c: FloatArray, k: int, sign: float, h: float, v0: float, d0: float, v1: float, d1: float
) -> None:
    """Powers of the cubic with given values and slopes at both ends of a step."""
    c[k, 0] = sign * v0
    c[k, 1] = sign * h * d0
    c[k, 2] = sign * (3.0 * (v1 - v0) - h * (2.0 * d0 + d1))
    c[k, 3] = sign * (2.0 * (v0 - v1) + h * (d0 + d1))


@compiled
def cubics(curve: FloatArray, row: int, ln_c: float, law: FloatArray, c: FloatArray) -> float:
    """Fill the cubics of the step from ``row``; return its length."""
    h: float = curve[row + 1, 0] - curve[row, 0]
    n = row + 1
    one_cubic(c, BY_Q, -1.0, h, curve[row, 1], curve[row, 2], curve[n, 1], curve[n, 2])
    one_cubic(c, BY_HEAT, -1.0, h, curve[row, 3], curve[row, 4], curve[n, 3], curve[n, 4])
    one_cubic(c, BY_REACH, 1.0, h, curve[row, 5], curve[row, 6], curve[n, 5], curve[n, 6])
    c[BY_Q, 0] -= ln_c
    for j in range(4):
        c[SPEED, j] = law[0] * c[BY_Q, j] + law[1] * c[BY_HEAT, j] + law[3] * c[BY_REACH, j]
    c[SPEED, 0] -= law[2]
    return h


@compiled
def log_speed(c: FloatArray, theta: float) -> float:
    """S at a fraction of a step."""
    s: float = c[SPEED, 0] + theta * (c[SPEED, 1] + theta * (c[SPEED, 2] + theta * c[SPEED, 3]))
    return s


@compiled
def moments(h: float, to: float, c: FloatArray, cap: float, m: FloatArray) -> None:
    """∫ e^S θ^j dt over the first ``to`` seconds where the speed is below its cap; last, the share fallen."""
    m[0] = m[1] = m[2] = m[3] = m[4] = 0.0
    for node in range(4):
        theta = 0.5 * (1.0 + GAUSS_X[node]) * to / h
        s = log_speed(c, theta)
        weight = 0.5 * to * GAUSS_W[node]
        if s >= cap:
            m[4] += weight * math.exp(cap)
            continue
        v = weight * math.exp(s)
        m[4] += v
        for j in range(4):
            m[j] += v
            v *= theta


@compiled
def add(c: FloatArray, m: FloatArray, total: FloatArray) -> None:
    """Add a step's share fallen, and its slopes to q, H/R, ln t_ref and reach."""
    total[0] += m[4]
    for j in range(4):
        total[1] += m[j] * c[BY_Q, j]
        total[2] += m[j] * c[BY_HEAT, j]
        total[4] += m[j] * c[BY_REACH, j]
    total[3] -= m[0]


@compiled
def within(h: float, z: float, c: FloatArray, cap: float, m: FloatArray) -> float:
    """Seconds into the step at which the share fallen reaches 1: Newton, kept inside a bracket."""
    low, high, t = 0.0, h, 0.5 * h
    for _ in range(60):
        moments(h, t, c, cap, m)
        miss = z + m[4] - 1.0
        if miss > 0.0:
            high = t
        else:
            low = t
        new = t - miss / math.exp(min(log_speed(c, t / h), cap))
        if not (low < new < high):
            new = 0.5 * (low + high)
        moved = abs(new - t)
        t = new
        if moved < 1e-10:
            break
    return t


@compiled
def arrival(curve: FloatArray, rows: int, ln_c: float, law: FloatArray, work: FloatArray) -> float:
    """Seconds of one fall; leaves dFN/dθ in the first four of ``work`` (30 numbers)."""
    m, total, c = work[4:9], work[9:14], work[14:30].reshape(4, 4)
    total[:] = 0.0
    cap: float = law[4]
    at: float = curve[rows - 1, 0]
    h = 1.0
    for row in range(rows - 1):
        h = cubics(curve, row, ln_c, law, c)
        moments(h, h, c, cap, m)
        if total[0] + m[4] >= 1.0:
            t = within(h, total[0], c, cap, m)
            moments(h, t, c, cap, m)
            add(c, m, total)
            speed = math.exp(min(log_speed(c, t / h), cap))
            for j in range(SLOPES):
                work[j] = -total[j + 1] / speed
            at = curve[row, 0]
            return at + t
        add(c, m, total)
    # Settled at the bath's temperature: the speed stays as it is.
    s = log_speed(c, 1.0)
    speed = math.exp(min(s, cap))
    rest: float = (1.0 - total[0]) / speed
    gained = 0.0 if s >= cap else rest * speed
    for j in range(4):
        total[1] += gained * c[BY_Q, j]
        total[2] += gained * c[BY_HEAT, j]
        total[4] += gained * c[BY_REACH, j]
    total[3] -= gained
    for j in range(SLOPES):
        work[j] = -total[j + 1] / speed
    return at + rest


@compiled
def few(
    curves: FloatArray, rows: FloatArray, ln_c: FloatArray, which: FloatArray, laws: FloatArray,
    seconds: FloatArray, slopes: FloatArray,
) -> None:  # fmt: skip
    """Seconds and slopes of falls, one after another: for so few, calling up the cores costs more."""
    work = np.empty(30)
    for i in range(laws.shape[0]):
        k = int(which[i])
        seconds[i] = arrival(curves[k], int(rows[k]), ln_c[k], laws[i], work)
        for j in range(SLOPES):
            slopes[i, j] = work[j]


@parallel
def arrivals(
    curves: FloatArray, rows: FloatArray, ln_c: FloatArray, which: FloatArray, laws: FloatArray,
    seconds: FloatArray, slopes: FloatArray,
) -> None:  # fmt: skip
    """Seconds and slopes of many falls; ``which`` names the curve of each law."""
    blocks = (laws.shape[0] + 63) // 64
    for block in across(blocks):
        work = np.empty(30)
        for i in range(block * 64, min(block * 64 + 64, laws.shape[0])):
            k = int(which[i])
            seconds[i] = arrival(curves[k], int(rows[k]), ln_c[k], laws[i], work)
            for j in range(SLOPES):
                slopes[i, j] = work[j]
