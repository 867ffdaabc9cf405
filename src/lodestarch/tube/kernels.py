"""Compiled kernels: one tube from lowering to the end of the fall.

The idea, once. Heat is linear, so its history is exact: each phase is a chain of nodes (shells, then
glass, the bath beyond) whose temperatures are sums of exponentials. Everything else is then an integral
along that history, and no differential equation is left to solve:

- enzyme left     e = exp(-K),  K = ∫ k_d(T) dt
- swollen share   g: relaxation to g_eq(T), integrated against its own exponential kernel
- cuts per unit   y = ∫ act(T) e g dt
- fall            z = ∫ exp(S) dt,  S = -ln t_ref - q(L + ln c/c0) - (H/R) Q + b A C_A Y

with the means over shells L = Σ w ln g, Q = Σ w (1/T - 1/363.15), Y = Σ w y. Every integrand has its
slope in closed form, so the end-corrected trapezoid (fourth order) needs values at the nodes only:
∫ f = h (f0 + f1)/2 + h² (f0' - f1')/12. The grid doubles its step as the tube settles.

All kernels stand in this one file, longer than others, because a compiled kernel kept on disk is renewed only
when its own file changes. The same goes for ``lanes``: who edits it saves this file too.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from lodestarch.common.arrays import FloatArray
from lodestarch.tube.jit import across, compiled, parallel
from lodestarch.tube.lanes import lane_exp, lane_log
from lodestarch.tube.layout import (
    I_ACTIVITY,
    I_BATH,
    I_DECAY,
    I_MASS,
    I_MOISTURE,
    I_START,
    I_STIR,
    I_WALL,
    I_WATER,
    P_BORE,
    P_CAP,
    P_CP_DRY,
    P_CP_GLASS,
    P_CP_WATER,
    P_CUT,
    P_CUT_ENERGY,
    P_DECAY_ENERGY,
    P_DRY_SHARE,
    P_FILM_IN,
    P_FILM_OUT,
    P_FLOOR,
    P_GAS,
    P_K,
    P_K_GLASS,
    P_PASTE_ENERGY,
    P_PASTE_EXPONENT,
    P_PASTE_TIME,
    P_PER_STARCH,
    P_RELEASE,
    P_RHO_DRY,
    P_RHO_GLASS,
    P_RHO_WATER,
    P_SHELLS,
    P_SWELL_MID,
    P_SWELL_TIME,
    P_SWELL_WIDTH,
)

KELVIN: Final = 273.15
INV_80: Final = 1.0 / 353.15
INV_85: Final = 1.0 / 358.15
INV_90: Final = 1.0 / 363.15

# Four-point Gauss-Legendre on (-1, 1).
GAUSS_X: Final = (-0.8611363115940526, -0.33998104358485626, 0.33998104358485626, 0.8611363115940526)
GAUSS_W: Final = (0.34785484513745385, 0.6521451548625461, 0.6521451548625461, 0.34785484513745385)

# The state of a phase is one row of numbers, cut into stretches: for each quantity a place for every shell,
# for temperature also one for the glass. Stretches have a fixed length, so the compiler knows that they do
# not overlap and works on several shells at once; the last lanes of a group of shells carry no weight.
LANES: Final = 4
STRETCH: Final = 72  # 64 shells, glass, and lanes to spare
T: Final = 0 * STRETCH  # temperature, °C
DT: Final = 1 * STRETCH  # its slope, K/s
G: Final = 2 * STRETCH  # swollen share
K: Final = 3 * STRETCH  # ∫ k_d dt since the states were last mixed
E: Final = 4 * STRETCH  # enzyme left when they were mixed
Y: Final = 5 * STRETCH  # cuts per unit of b A C_A
KD: Final = 6 * STRETCH  # k_d and its slope
DKD: Final = 7 * STRETCH
GEQ: Final = 8 * STRETCH  # g_eq and its slope
DGEQ: Final = 9 * STRETCH
F: Final = 10 * STRETCH  # act e g and its slope
DF: Final = 11 * STRETCH
WEIGHT: Final = 12 * STRETCH  # share of volume
CAPACITY: Final = 13 * STRETCH  # J/(m K)
CONDUCTANCE: Final = 14 * STRETCH  # W/(m K), from node j to j + 1; the last to the bath
RATE: Final = 15 * STRETCH  # 1/s, decay rates of the modes
AMPLITUDE: Final = 16 * STRETCH
DECAY: Final = 17 * STRETCH  # exp(-rate step)
WORK: Final = 18 * STRETCH
SIZE: Final = 19 * STRETCH


@compiled
def dry_share(tube: FloatArray) -> float:
    """Dry matter over the whole charge by mass."""
    share: float = tube[I_MASS] * (1.0 - 0.01 * tube[I_MOISTURE]) / (tube[I_WATER] + tube[I_MASS])
    return share


@compiled
def heat_chain(tube: FloatArray, p: FloatArray, state: FloatArray, stirred: float) -> int:
    """Fill capacities, conductances and weights of a phase; return the number of shells in it.

    ``stirred`` is a float because the compiler makes a version of its own for every literal integer.
    """
    c = dry_share(tube)
    cp = p[P_CP_WATER] * (1.0 - c) + p[P_CP_DRY] * c
    rho = 1.0 / ((1.0 - c) / p[P_RHO_WATER] + c / p[P_RHO_DRY])
    bore = 0.0005 * p[P_BORE]
    outer = bore + 0.001 * tube[I_WALL]
    middle = 0.5 * (bore + outer)
    turn = 2.0 * math.pi
    total = rho * cp * math.pi * bore * bore
    wall_in = math.log(middle / bore) / (turn * p[P_K_GLASS])
    shells = 1
    for i in range(STRETCH):
        state[WEIGHT + i] = 0.0
    if stirred > 0.0:
        state[WEIGHT] = 1.0
        state[CAPACITY] = total
        state[CONDUCTANCE] = 1.0 / (wall_in + 1.0 / (p[P_FILM_IN] * turn * bore))
    else:
        shells = int(p[P_SHELLS])
        for i in range(shells):
            state[WEIGHT + i] = (2.0 * i + 1.0) / (shells * shells)
            state[CAPACITY + i] = total * state[WEIGHT + i]
            state[CONDUCTANCE + i] = turn * p[P_K] * (i + 1.0)
        to_wall = math.log(shells / (shells - 0.5)) / (turn * p[P_K])
        state[CONDUCTANCE + shells - 1] = 1.0 / (wall_in + to_wall)
    state[CAPACITY + shells] = p[P_RHO_GLASS] * p[P_CP_GLASS] * math.pi * (outer * outer - bore * bore)
    state[CONDUCTANCE + shells] = 1.0 / (
        1.0 / (p[P_FILM_OUT] * turn * outer) + math.log(outer / middle) / (turn * p[P_K_GLASS])
    )
    return shells


@compiled
def sweep(n: int, low: int, m: int, d: FloatArray, e: FloatArray, modes: FloatArray) -> None:
    """One implicit QL sweep over rows ``low`` to ``m`` of a symmetric tridiagonal matrix."""
    shift = (d[low + 1] - d[low]) / (2.0 * e[low])
    r = math.sqrt(shift * shift + 1.0)
    shift = d[m] - d[low] + e[low] / (shift + (r if shift >= 0.0 else -r))
    s, c, back = 1.0, 1.0, 0.0
    for i in range(m - 1, low - 1, -1):
        f, b = s * e[i], c * e[i]
        r = math.sqrt(f * f + shift * shift)
        e[i + 1] = r
        if r == 0.0:
            d[i + 1] -= back
            e[m] = 0.0
            return
        s, c = f / r, shift / r
        shift = d[i + 1] - back
        r = (d[i] - shift) * s + 2.0 * c * b
        back = s * r
        d[i + 1] = shift + back
        shift = c * r - b
        for k in range(n):
            f = modes[i + 1, k]
            modes[i + 1, k] = s * modes[i, k] + c * f
            modes[i, k] = c * modes[i, k] - s * f
    d[low] -= back
    e[low] = shift
    e[m] = 0.0


@compiled
def decompose(n: int, state: FloatArray, modes: FloatArray) -> None:
    """Rates and shapes of the n modes of a chain, from its symmetric tridiagonal form.

    Rows of ``modes`` are modes, columns nodes.
    """
    d, e = state[RATE : RATE + n], state[WORK : WORK + n]
    for j in range(n):
        d[j] = state[CONDUCTANCE + j] / state[CAPACITY + j]
        if j > 0:
            d[j] += state[CONDUCTANCE + j - 1] / state[CAPACITY + j]
        e[j] = 0.0
        if j < n - 1:
            e[j] = -state[CONDUCTANCE + j] / math.sqrt(state[CAPACITY + j] * state[CAPACITY + j + 1])
        for k in range(n):
            modes[k, j] = 0.0
        modes[j, j] = 1.0
    for low in range(n):
        for _ in range(60):
            m = low
            while m < n - 1 and abs(e[m]) > 1e-14 * (abs(d[m]) + abs(d[m + 1])):
                m += 1
            if m == low:
                break
            sweep(n, low, m, d, e, modes)


@compiled
def shape(n: int, state: FloatArray, modes: FloatArray) -> None:
    """Decompose a chain and scale its shapes to temperatures: T = T_b + Σ amplitude shape."""
    decompose(n, state, modes)
    for j in range(n):
        root = math.sqrt(state[CAPACITY + j])
        for k in range(n):
            modes[k, j] /= root


@compiled
def set_amplitudes(n: int, bath: float, state: FloatArray, modes: FloatArray) -> None:
    """Amplitudes of the modes from the temperatures now."""
    for k in range(n):
        total = 0.0
        for j in range(n):
            total += modes[k, j] * state[CAPACITY + j] * (state[T + j] - bath)
        state[AMPLITUDE + k] = total


@compiled
def temperatures(n: int, bath: float, state: FloatArray, modes: FloatArray) -> None:
    """Temperatures from the amplitudes now, and their slopes from the chain."""
    for j in range(n):
        state[T + j] = bath
    for k in range(n):
        a = state[AMPLITUDE + k]
        for j in range(n):
            state[T + j] += a * modes[k, j]
    inflow = state[CONDUCTANCE + n - 1] * (bath - state[T + n - 1])
    for j in range(n - 1, -1, -1):
        onward = state[CONDUCTANCE + j - 1] * (state[T + j] - state[T + j - 1]) if j > 0 else 0.0
        state[DT + j] = (inflow - onward) / state[CAPACITY + j]
        inflow = onward


@compiled
def relaxation(h: float, tau: float, weights: FloatArray) -> None:
    """Weights of y' = (u - y)/tau over a step h, u cubic with slopes: y0, u0, u1, u0', u1'."""
    kappa = h / tau
    m = weights[5:9]
    m[0] = -math.expm1(-kappa)
    if kappa < 1.0:
        # ∫ κ e^(-κ(1-θ)) θ^j dθ as a series: the recursion below cancels for small κ.
        term = kappa * math.exp(-kappa)
        m[1] = m[2] = m[3] = 0.0
        n = 0.0
        while term > 1e-17 * kappa:
            m[1] += term / (n + 2.0)
            m[2] += term / (n + 3.0)
            m[3] += term / (n + 4.0)
            n += 1.0
            term *= kappa / n
    else:
        for j in range(1, 4):
            m[j] = 1.0 - j / kappa * m[j - 1]
    weights[0] = math.exp(-kappa)
    weights[1] = m[0] - 3.0 * m[2] + 2.0 * m[3]
    weights[2] = 3.0 * m[2] - 2.0 * m[3]
    weights[3] = h * (m[1] - 2.0 * m[2] + m[3])
    weights[4] = h * (m[3] - m[2])


@compiled
def kinetics(
    shells: int,
    h: float,
    decay: float,
    p: FloatArray,
    weights: FloatArray,
    state: FloatArray,
    out: FloatArray,
) -> None:
    """Carry swelling, enzyme and cuts over a step h to the temperatures now.

    With h = 0 and weights (1, 0, 0, 0, 0) it only sets the rates. ``out`` receives L, L', Q, Q', Y, Y' of the
    means over shells. One loop without branches or calls, so that it runs over several shells at once.
    """
    decay_k, cut_k = p[P_DECAY_ENERGY] / p[P_GAS], p[P_CUT_ENERGY] / p[P_GAS]
    mid, per_width, per_tau, floor = p[P_SWELL_MID], 1.0 / p[P_SWELL_WIDTH], 1.0 / p[P_SWELL_TIME], p[P_FLOOR]
    keep, to_u0, to_u1, to_d0, to_d1 = weights[0], weights[1], weights[2], weights[3], weights[4]
    half, twelfth = 0.5 * h, h * h / 12.0
    ln_g = d_ln_g = inv = d_inv = cuts = d_cuts = 0.0
    for i in range((shells + LANES - 1) // LANES * LANES):
        per_t = 1.0 / (state[T + i] + KELVIN)
        d_per_t = state[DT + i] * per_t * per_t
        kd = decay * lane_exp(-decay_k * (per_t - INV_85))
        dkd = kd * decay_k * d_per_t
        geq = 1.0 / (1.0 + lane_exp((mid - state[T + i]) * per_width))
        dgeq = geq * (1.0 - geq) * state[DT + i] * per_width
        was = state[G + i]
        spent = state[K + i] + half * (state[KD + i] + kd) + twelfth * (state[DKD + i] - dkd)
        grown = keep * was + to_u0 * state[GEQ + i] + to_u1 * geq + to_d0 * state[DGEQ + i] + to_d1 * dgeq
        g = max(was, grown) if geq > was else was
        dg = max(geq - g, 0.0) * per_tau
        bare = lane_exp(-cut_k * (per_t - INV_80) - spent) * state[E + i]
        f = bare * g
        df = bare * (dg + g * (cut_k * d_per_t - kd))
        cut = state[Y + i] + half * (state[F + i] + f) + twelfth * (state[DF + i] - df)
        state[K + i], state[Y + i], state[G + i] = spent, cut, g
        state[KD + i], state[DKD + i], state[GEQ + i], state[DGEQ + i] = kd, dkd, geq, dgeq
        state[F + i], state[DF + i] = f, df
        w = state[WEIGHT + i]
        ln_g += w * lane_log(max(g, floor))
        d_ln_g += w * dg / g if g > floor else 0.0
        inv += w * (per_t - INV_90)
        d_inv -= w * d_per_t
        cuts += w * cut
        d_cuts += w * f
    out[0], out[1], out[2], out[3], out[4], out[5] = ln_g, d_ln_g, inv, d_inv, cuts, d_cuts


@compiled
def settle(
    shells: int, tube: FloatArray, p: FloatArray, state: FloatArray, modes: FloatArray, weights: FloatArray,
    out: FloatArray,
) -> None:  # fmt: skip
    """Start a phase from the temperatures and shares that stand in its state."""
    set_amplitudes(shells + 1, tube[I_BATH], state, modes)
    temperatures(shells + 1, tube[I_BATH], state, modes)
    weights[0] = 1.0
    weights[1] = weights[2] = weights[3] = weights[4] = 0.0
    kinetics(shells, 0.0, tube[I_DECAY], p, weights, state, out)


@compiled
def set_step(shells: int, h: float, p: FloatArray, weights: FloatArray, state: FloatArray) -> None:
    """Make ready for steps of h."""
    relaxation(h, p[P_SWELL_TIME], weights)
    for k in range(shells + 1):
        state[DECAY + k] = math.exp(-state[RATE + k] * h)


@compiled
def step(
    shells: int, h: float, tube: FloatArray, p: FloatArray, weights: FloatArray, state: FloatArray,
    modes: FloatArray, out: FloatArray,
) -> None:  # fmt: skip
    """Carry a phase over one step of h."""
    for k in range(shells + 1):
        state[AMPLITUDE + k] *= state[DECAY + k]
    temperatures(shells + 1, tube[I_BATH], state, modes)
    kinetics(shells, h, tube[I_DECAY], p, weights, state, out)


@compiled
def note(
    row: int, time: float, phase: float, shells: int, state: FloatArray, out: FloatArray, times: FloatArray,
    record: FloatArray,
) -> int:  # fmt: skip
    """Write one row of a history, if one is kept; return the next row."""
    if row < times.shape[0]:
        times[row, 0], times[row, 1], times[row, 2] = time, phase, state[T + shells]
        for j in range(6):
            times[row, 3 + j] = out[j]
        for i in range(record.shape[2]):
            j = i if shells > 1 else 0
            record[row, 0, i], record[row, 1, i] = state[T + j], state[G + j]
            record[row, 2, i], record[row, 3, i] = state[E + j] * math.exp(-state[K + j]), state[Y + j]
    return row + 1


@compiled
def mix(shells: int, still: FloatArray, mixed: FloatArray) -> None:
    """Replace every state by its volume mean, as the stirrer does when it starts."""
    temp = swollen = enzyme = cuts = 0.0
    for i in range(shells):
        w = still[WEIGHT + i]
        temp += w * still[T + i]
        swollen += w * still[G + i]
        enzyme += w * still[E + i] * math.exp(-still[K + i])
        cuts += w * still[Y + i]
    mixed[T], mixed[T + 1] = temp, still[T + shells]
    mixed[G], mixed[K], mixed[E], mixed[Y] = swollen, 0.0, enzyme, cuts


@compiled
def spread(shells: int, mixed: FloatArray, still: FloatArray) -> None:
    """Let every shell start from the mixed states when the stirrer is released."""
    for i in range(shells):
        still[T + i], still[G + i], still[K + i] = mixed[T], mixed[G], mixed[K]
        still[E + i], still[Y + i] = mixed[E], mixed[Y]
    still[T + shells] = mixed[T + 1]


@compiled
def held_until(tube: FloatArray, p: FloatArray, state: FloatArray, modes: FloatArray, span: float) -> float:
    """Seconds of stirring before swelling goes on: mixing can lift g above g_eq of the mixed slurry."""
    g = state[G]
    if g <= 0.0 or state[GEQ] >= g or g >= 1.0:
        return 0.0
    target = p[P_SWELL_MID] + p[P_SWELL_WIDTH] * math.log(g / (1.0 - g)) - tube[I_BATH]
    low, high = 0.0, span
    for _ in range(60):
        at = 0.5 * (low + high)
        temp = 0.0
        for k in range(2):
            temp += state[AMPLITUDE + k] * math.exp(-state[RATE + k] * at) * modes[k, 0]
        if temp < target:
            low = at
        else:
            high = at
        if high - low < 1e-6:
            break
    return high


@compiled
def to_release(
    tube: FloatArray, p: FloatArray, grid: FloatArray, work: FloatArray, shapes: FloatArray,
    weights: FloatArray, out: FloatArray, times: FloatArray, record: FloatArray,
) -> int:  # fmt: skip
    """Carry a tube from lowering to the release of the stirrer; return the next row of the history."""
    still, mixed = work[0], work[1]
    shells = heat_chain(tube, p, still, 0.0)
    shape(shells + 1, still, shapes[0])
    for i in range(shells + 1):
        still[T + i] = tube[I_START]
        still[G + i], still[K + i], still[E + i], still[Y + i] = 0.0, 0.0, 1.0, 0.0
    settle(shells, tube, p, still, shapes[0], weights, out)
    row = note(0 * shells, 0.0, 0.0, shells, still, out, times, record)
    waiting = tube[I_STIR]
    if waiting > 0.0:
        steps = math.ceil(waiting / grid[0])
        h = waiting / steps
        set_step(shells, h, p, weights, still)
        for i in range(steps):
            step(shells, h, tube, p, weights, still, shapes[0], out)
            row = note(
                row, waiting if i + 1 == steps else (i + 1) * h, 0.0, shells, still, out, times, record
            )
    one = heat_chain(tube, p, mixed, 1.0)
    shape(one + 1, mixed, shapes[1])
    mix(shells, still, mixed)
    settle(one, tube, p, mixed, shapes[1], weights, out)
    row = note(row, waiting, 1.0, one, mixed, out, times, record)
    span = p[P_RELEASE] - waiting
    held = held_until(tube, p, mixed, shapes[1], span)
    now = waiting
    for part in (held, span - held):
        if part > 1e-9:
            steps = math.ceil(part / grid[1])
            h = part / steps
            set_step(one, h, p, weights, mixed)
            for i in range(steps):
                step(one, h, tube, p, weights, mixed, shapes[1], out)
                row = note(row, min(now + (i + 1) * h, p[P_RELEASE]), 1.0, one, mixed, out, times, record)
            now += part
    spread(shells, mixed, still)
    settle(shells, tube, p, still, shapes[0], weights, out)
    return note(row, p[P_RELEASE], 2.0, shells, still, out, times, record)


@compiled
def log_speed(tube: FloatArray, p: FloatArray, means: FloatArray, s: FloatArray) -> None:
    """Logarithm of the fall's speed and its slope, before the cap, from the means over shells."""
    c = dry_share(tube) / p[P_DRY_SHARE]
    q, heat = p[P_PASTE_EXPONENT], p[P_PASTE_ENERGY] / p[P_GAS]
    reach = tube[I_ACTIVITY] * p[P_CUT]
    if p[P_PER_STARCH] == 0.0:
        reach *= c
    s[0] = reach * means[4] - q * (means[0] + math.log(c)) - heat * means[2] - math.log(p[P_PASTE_TIME])
    s[1] = reach * means[5] - q * means[1] - heat * means[3]


@compiled
def fallen(h: float, to: float, a: FloatArray, b: FloatArray, cap: float) -> float:
    """Share fallen over the part ``to`` of a step: ∫ min(e^S, cap) dt, S cubic with slopes, 4-point Gauss."""
    total = 0.0
    c2 = 3.0 * (b[0] - a[0]) - h * (2.0 * a[1] + b[1])
    c3 = 2.0 * (a[0] - b[0]) + h * (a[1] + b[1])
    for node in range(4):
        theta = 0.5 * (1.0 + GAUSS_X[node]) * to / h
        s = a[0] + theta * (h * a[1] + theta * (c2 + theta * c3))
        total += GAUSS_W[node] * min(math.exp(s), cap)
    return 0.5 * to * total


@compiled
def moment_of_arrival(h: float, z: float, a: FloatArray, b: FloatArray, cap: float) -> float:
    """Time within a step at which the share fallen reaches 1: Newton, kept inside a bracket."""
    low, high = 0.0, h
    c2 = 3.0 * (b[0] - a[0]) - h * (2.0 * a[1] + b[1])
    c3 = 2.0 * (a[0] - b[0]) + h * (a[1] + b[1])
    t = h * 0.5
    for _ in range(60):
        miss = z + fallen(h, t, a, b, cap) - 1.0
        if miss > 0.0:
            high = t
        else:
            low = t
        theta = t / h
        speed = min(math.exp(a[0] + theta * (h * a[1] + theta * (c2 + theta * c3))), cap)
        new = t - miss / speed
        if not (low < new < high):
            new = 0.5 * (low + high)
        if abs(new - t) < 1e-9:
            return new
        t = new
    return t


@compiled
def reading(
    tube: FloatArray, p: FloatArray, grid: FloatArray, work: FloatArray, shapes: FloatArray,
    weights: FloatArray, out: FloatArray, speeds: FloatArray, times: FloatArray, record: FloatArray,
) -> float:  # fmt: skip
    """Seconds of one tube."""
    to_release(tube, p, grid, work, shapes, weights, out, times, record)
    state, modes, shells = work[0], shapes[0], int(p[P_SHELLS])
    cap, z = p[P_CAP], 0.0
    now: float = p[P_RELEASE]
    before, after = speeds[0], speeds[1]
    log_speed(tube, p, out, after)
    h: float = grid[2]
    set_step(shells, h, p, weights, state)
    while True:
        for _ in range(int(grid[3])):
            step(shells, h, tube, p, weights, state, modes, out)
            before[0], before[1] = after[0], after[1]
            log_speed(tube, p, out, after)
            more = fallen(h, h, before, after, cap)
            if z + more >= 1.0:
                return now + moment_of_arrival(h, z, before, after, cap)
            z += more
            now += h
        if now > grid[5]:  # settled at the bath's temperature: the speed stays as it is
            rest: float = (1.0 - z) / min(math.exp(after[0]), cap)
            return now + rest
        if 2.0 * h <= grid[4]:
            h *= 2.0
            relaxation(h, p[P_SWELL_TIME], weights)
            for k in range(shells + 1):
                state[DECAY + k] *= state[DECAY + k]


@compiled
def history(
    tube: FloatArray, p: FloatArray, grid: FloatArray, until: float, times: FloatArray, record: FloatArray
) -> int:
    """Full history of one tube at even steps up to ``until``; return the number of rows it takes.

    ``times`` holds time, phase, glass, L, L', Q, Q', Y, Y'; ``record`` holds T, g, e, y by shell. With
    ``times`` of no rows nothing is written and the rows are only counted.
    """
    shells = int(p[P_SHELLS])
    work, shapes = np.zeros((2, SIZE)), np.empty((2, shells + 1, shells + 1))
    weights, out = np.empty(9), np.empty(6)
    row = to_release(tube, p, grid, work, shapes, weights, out, times, record)
    span = until - p[P_RELEASE]
    if span > 0.0:
        steps = math.ceil(span / grid[2])
        h = span / steps
        set_step(shells, h, p, weights, work[0])
        for i in range(steps):
            step(shells, h, tube, p, weights, work[0], shapes[0], out)
            row = note(row, p[P_RELEASE] + (i + 1) * h, 2.0, shells, work[0], out, times, record)
    return row


@compiled
def curve(tube: FloatArray, p: FloatArray, grid: FloatArray, means: FloatArray) -> int:
    """Means over shells from release until the tube has settled: time, L, L', Q, Q', Y, Y' by row.

    They do not depend on activity, nor on the four constants of paste and cutting.
    """
    shells = int(p[P_SHELLS])
    work, shapes = np.zeros((2, SIZE)), np.empty((2, shells + 1, shells + 1))
    weights, out = np.empty(9), np.empty(6)
    none, nothing = np.empty((0, 9)), np.empty((0, 4, shells))
    to_release(tube, p, grid, work, shapes, weights, out, none, nothing)
    now, h, row = p[P_RELEASE], grid[2], 0
    means[row, 0] = now
    for j in range(6):
        means[row, 1 + j] = out[j]
    set_step(shells, h, p, weights, work[0])
    while now <= grid[5]:
        for _ in range(int(grid[3])):
            step(shells, h, tube, p, weights, work[0], shapes[0], out)
            now += h
            row += 1
            means[row, 0] = now
            for j in range(6):
                means[row, 1 + j] = out[j]
        if 2.0 * h <= grid[4]:
            h *= 2.0
            set_step(shells, h, p, weights, work[0])
    return row + 1


@compiled
def some(
    tubes: FloatArray, sets: FloatArray, grid: FloatArray, seconds: FloatArray, start: int, stop: int
) -> None:
    """Seconds of tubes ``start`` to ``stop``, one after another; ``sets`` has one row, or one a tube."""
    most = 0
    for i in range(sets.shape[0]):
        most = max(most, int(sets[i, P_SHELLS]))
    work, shapes = np.zeros((2, SIZE)), np.empty((2, most + 1, most + 1))
    weights, out, speeds = np.empty(9), np.empty(6), np.empty((2, 2))
    none, nothing = np.empty((0, 9)), np.empty((0, 4, most))
    for i in range(start, stop):
        p = sets[i] if sets.shape[0] > 1 else sets[0]
        seconds[i] = reading(tubes[i], p, grid, work, shapes, weights, out, speeds, none, nothing)


@parallel
def readings(tubes: FloatArray, sets: FloatArray, grid: FloatArray, seconds: FloatArray) -> None:
    """Seconds of many tubes, spread over the cores; ``sets`` has one row, or one a tube."""
    total = tubes.shape[0]
    for block in across((total + 63) // 64):
        some(tubes, sets, grid, seconds, block * 64, min(block * 64 + 64, total))
