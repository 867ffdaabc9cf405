"""Exponential and logarithm that the compiler can spread over the lanes of a vector register.

The library functions are calls, and a loop with calls runs one shell at a time. These are straight-line
arithmetic with the exponent put together as bits, so the loop over shells runs several at once. Compared
with the library in the tests.
"""

from __future__ import annotations

import math
from typing import Any

from llvmlite import ir  # type: ignore[import-untyped]  # no stubs exist
from numba.core import types
from numba.extending import intrinsic

from lodestarch.tube.jit import inlined

__all__ = ["lane_exp", "lane_log"]


def _to_double(_context: Any, _bits: Any) -> Any:
    def generate(_target: Any, builder: Any, _signature: Any, arguments: Any) -> Any:
        return builder.bitcast(arguments[0], ir.DoubleType())

    return types.float64(types.int64), generate


def _to_bits(_context: Any, _number: Any) -> Any:
    def generate(_target: Any, builder: Any, _signature: Any, arguments: Any) -> Any:
        return builder.bitcast(arguments[0], ir.IntType(64))

    return types.int64(types.float64), generate


as_double: Any = intrinsic(_to_double)
as_bits: Any = intrinsic(_to_bits)

ONE_OVER_LN2 = 1.4426950408889634
LN2_HIGH, LN2_LOW = 0.6931471803691238, 1.9082149292705877e-10
EXPONENT_AS_BITS = 4503599627371519.0  # 2^52 + 1023: adding it leaves n + 1023 in the low bits
ROOT_HALF = 0x3FE6A09E667F3BCD  # bits of sqrt(1/2)
MANTISSA = 0x000FFFFFFFFFFFFF


@inlined
def lane_exp(x: float) -> float:
    """E to the x, for x held between -700 and 700; about 1e-14 off at worst, relative."""
    x = min(max(x, -700.0), 700.0)
    n = math.floor(x * ONE_OVER_LN2 + 0.5)
    r = x - n * LN2_HIGH - n * LN2_LOW
    p = 1.0 / 39916800.0
    p = p * r + 1.0 / 3628800.0
    p = p * r + 1.0 / 362880.0
    p = p * r + 1.0 / 40320.0
    p = p * r + 1.0 / 5040.0
    p = p * r + 1.0 / 720.0
    p = p * r + 1.0 / 120.0
    p = p * r + 1.0 / 24.0
    p = p * r + 1.0 / 6.0
    p = p * r + 0.5
    p = p * r + 1.0
    p = p * r + 1.0
    scale: float = as_double(as_bits(n + EXPONENT_AS_BITS) << 52)
    return p * scale


@inlined
def lane_log(x: float) -> float:
    """Logarithm of a positive normal number; about 1e-15 off at worst."""
    bits: int = as_bits(x) - ROOT_HALF
    m: float = as_double((bits & MANTISSA) + ROOT_HALF)  # between sqrt(1/2) and sqrt(2)
    s = (m - 1.0) / (m + 1.0)
    z = s * s
    p = 1.0 / 19.0
    p = p * z + 1.0 / 17.0
    p = p * z + 1.0 / 15.0
    p = p * z + 1.0 / 13.0
    p = p * z + 1.0 / 11.0
    p = p * z + 1.0 / 9.0
    p = p * z + 1.0 / 7.0
    p = p * z + 1.0 / 5.0
    p = p * z + 1.0 / 3.0
    p = p * z + 1.0
    return 2.0 * s * p + (bits >> 52) * 0.6931471805599453
