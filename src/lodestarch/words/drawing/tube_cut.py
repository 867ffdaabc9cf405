"""One tube at one moment, cut open along its axis, to scale across and along.

What moves is written so that a script can set the same attributes from the same history and nothing else:

- ``.heat[data-s]``: a ring of slurry, ``fill-opacity`` is its :func:`warmth`; ``.heat[data-glass]`` the wall.
- ``.granule[data-s]``: ``r`` is :data:`GRANULE` times one and the share swollen.
- ``.chain[data-s]``: ``stroke-dasharray`` begins with the length of a piece, 100 exp(-cuts);
  ``stroke-opacity`` is the share swollen.
- ``.enzyme[data-s][data-u]``: hidden once the share of enzyme left falls below ``data-u``.
- ``.stirrer[data-top][data-bottom]``: moved down by the share fallen, or by its stroke.

``data-s`` is the shell, 0 on the axis. Where granules and chains lie means nothing, and they are not to
scale; one enzyme mark stands for one liquefaction number of enzyme.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape
from typing import Final

from lodestarch.words.drawing.svg import Drawing

__all__ = ["ENZYMES", "GRANULE", "TubeMoment", "TubeShape", "stroke_share", "tube_cut", "warmth"]

_PX_MM: Final = 8.0
_BORE_PX: Final = 84.0
"""Half of the bore of 21 mm."""
_BASE: Final = 900.0
_ROUND: Final = 46.0
"""How far the bottom curves up towards the wall."""
_BATH: Final = 11.0
_TOP: Final = 36.0
_HALF_WIDTH: Final = 112.0
_HEIGHT: Final = 940.0

GRANULE: Final = 4.0
"""Radius of a granule before it swells; swollen it is twice as wide."""
_GRANULES: Final = 92
_CHAINS: Final = 30
ENZYMES: Final = 240
"""Most enzyme marks that are drawn."""
_GAP: Final = 6.0
"""Between two pieces of a chain, of 100 for the whole chain."""
_COLD_C, _HOT_C = 20.0, 100.0


@dataclass(frozen=True, slots=True)
class TubeShape:
    """What does not change while a tube runs.

    Parameters
    ----------
    depth_mm, wall_mm : float
        Slurry in the bore, glass. [mm]
    bath_c : float
        [°C]
    activity : float
        Enzyme in LN units. [1]
    shells : int
        Rings of equal width.
    """

    depth_mm: float
    wall_mm: float
    bath_c: float
    activity: float
    shells: int


@dataclass(frozen=True, slots=True)
class TubeMoment:
    """One row of a history, as the history gives it; ``down`` is where the stirrer is, 0 top, 1 bottom."""

    temp_c: Sequence[float]
    glass_c: float
    swollen: Sequence[float]
    enzyme_left: Sequence[float]
    cuts: Sequence[float]
    down: float


def warmth(temp_c: float) -> float:
    """How warm a temperature is drawn: 0 at 20 °C, 1 at 100 °C.

    By the square, so that 80 and 95 °C differ to the eye.

    Examples
    --------
    >>> warmth(18.0), warmth(60.0), warmth(100.0)
    (0.0, 0.25, 1.0)
    """
    part = min(max((temp_c - _COLD_C) / (_HOT_C - _COLD_C), 0.0), 1.0)
    return part * part


def stroke_share(time_s: float, strokes_per_s: float, from_s: float, until_s: float) -> float:
    """Where the stirrer is while it stirs: straight down and up again, 0 on top, 1 at the bottom.

    Examples
    --------
    >>> [stroke_share(t, 2.0, 5.0, 59.0) for t in (5.0, 5.125, 5.25, 59.5)]
    [0.0, 0.5, 1.0, 0.0]
    """
    if not from_s <= time_s < until_s:
        return 0.0
    part = ((time_s - from_s) * strokes_per_s) % 1.0
    return 1.0 - abs(2.0 * part - 1.0)


def _spread(count: int, skip: int = 0) -> Iterator[tuple[float, float]]:
    """Points spread evenly over the unit square, always the same (steps of the plastic number)."""
    plastic = 1.324717957244746
    for k in range(skip, skip + count):
        yield (0.5 + k / plastic) % 1.0, (0.5 + k / plastic**2) % 1.0


def _rank(k: int) -> float:
    """Numbers between 0 and 1 in an order that fills the span evenly (van der Corput)."""
    share, step = 0.0, 0.5
    while k:
        share += step * (k & 1)
        k, step = k >> 1, step * 0.5
    return share + 0.5**9


def _bottom(x: float) -> float:
    """The inner bottom of the bore at a distance from the axis."""
    part = min(abs(x) / _BORE_PX, 1.0)
    return _BASE - _ROUND * (1.0 - math.sqrt(1.0 - part * part))


def _n(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")


def _three(value: float) -> str:
    return f"{value:.3f}"


def _rings(shape: TubeShape, now: TubeMoment, surface: float) -> Iterator[str]:
    """Every ring twice, left and right of the axis; its foot follows the round bottom."""
    width = _BORE_PX / shape.shells
    for s in range(shape.shells):
        for side in (-1.0, 1.0):
            steps = [side * width * (s + k / 6.0) for k in range(7)]
            foot = " ".join(f"{_n(x)} {_n(_bottom(x))}" for x in reversed(steps))
            d = f"M{_n(steps[0])} {_n(surface)}H{_n(steps[-1])}L{foot}Z"
            yield f'<path class="heat" data-s="{s}" d="{d}" fill-opacity="{_three(warmth(now.temp_c[s]))}"/>'


def _u(radius: float, top: float = 0.0) -> str:
    """Down one side at a distance from the axis, around the bottom, and up the other."""
    corner, deep = _BASE - _ROUND, _ROUND + radius - _BORE_PX
    around = f"A{_n(radius)} {_n(deep)} 0 0 0 {_n(radius)} {_n(corner)}"
    return f"M{_n(-radius)} {_n(top)}V{_n(corner)}{around}V{_n(top)}"


def _wall_path(inner: float, outer: float) -> str:
    """The ground between two such lines."""
    corner, deep = _BASE - _ROUND, _ROUND + inner - _BORE_PX
    back = f"H{_n(inner)}V{_n(corner)}A{_n(inner)} {_n(deep)} 0 0 1 {_n(-inner)} {_n(corner)}V0Z"
    return _u(outer) + back


def _shell_of(x: float, shells: int) -> int:
    return min(int(abs(x) / _BORE_PX * shells), shells - 1)


def _places(
    count: int, skip: int, surface: float, margin: float, reach: float
) -> Iterator[tuple[float, float]]:
    """Places inside the slurry, away from the wall by a margin, and by a reach from surface and bottom."""
    for u, v in _spread(count, skip):
        x = (2.0 * u - 1.0) * (_BORE_PX - margin)
        top = surface + reach
        yield x, top + v * max(_bottom(x) - reach - top, 0.0)


def _granules(shape: TubeShape, now: TubeMoment, surface: float) -> Iterator[str]:
    for x, y in _places(_GRANULES, 0, surface, 10.0, 10.0):
        s = _shell_of(x, shape.shells)
        r = GRANULE * (1.0 + now.swollen[s])
        yield f'<circle class="granule" data-s="{s}" cx="{_n(x)}" cy="{_n(y)}" r="{_three(r)}"/>'


def _chains(shape: TubeShape, now: TubeMoment, surface: float) -> Iterator[str]:
    for x, y in _places(_CHAINS, 400, surface, 14.0, 52.0):
        s = _shell_of(x, shape.shells)
        piece = 100.0 * math.exp(-now.cuts[s])
        d = f"M{_n(x)} {_n(y - 44.0)}q9 11 0 22t0 22t0 22t0 22"
        yield (
            f'<path class="chain" data-s="{s}" pathLength="100" d="{d}" '
            f'stroke-dasharray="{_three(piece)} {_n(_GAP)}" stroke-opacity="{_three(now.swollen[s])}"/>'
        )


def _enzymes(shape: TubeShape, now: TubeMoment, surface: float) -> Iterator[str]:
    count = min(round(shape.activity), ENZYMES)
    for k, (x, y) in enumerate(_places(count, 900, surface, 13.0, 13.0)):
        s, u = _shell_of(x, shape.shells), _rank(k)
        gone = ' visibility="hidden"' if now.enzyme_left[s] < u else ""
        d = f"M{_n(x - 9)} {_n(y + 7)}h18l-9 -16z"
        yield f'<path class="enzyme" data-s="{s}" data-u="{u:.4f}" d="{d}"{gone}/>'


def _stirrer(now: TubeMoment, surface: float) -> str:
    """A rod with a plate at its foot; the foot rests just beneath the surface and ends above the bottom."""
    top, bottom = surface + 10.0, _BASE - 30.0
    y = top + now.down * max(bottom - top, 0.0)
    plate = _BORE_PX - 9.0
    return (
        f'<g class="travel"><path d="M{_n(-plate)} {_n(top)}v{_n(max(bottom - top, 0.0))}'
        f'm{_n(2 * plate)} 0v{_n(-max(bottom - top, 0.0))}"/></g>'
        f'<g class="stirrer" data-top="{_n(top)}" data-bottom="{_n(max(bottom, top))}" '
        f'transform="translate(0 {_n(y)})"><path class="rod" d="M0 0V-900"/>'
        f'<path class="plate" d="M{_n(-plate)} 0H{_n(plate)}"/></g>'
    )


def tube_cut(shape: TubeShape, now: TubeMoment, title: str) -> Drawing:
    """Draw one tube at one moment.

    Parameters
    ----------
    shape : TubeShape
    now : TubeMoment
        As many shells as ``shape`` has.
    title : str
        Its name for those who do not see it.
    """
    surface = max(_BASE - shape.depth_mm * _PX_MM, _TOP)
    outer = _BORE_PX + shape.wall_mm * _PX_MM
    bath, glass = _three(warmth(shape.bath_c)), _three(warmth(now.glass_c))
    wall = _wall_path(_BORE_PX, outer)
    parts = [
        f'<path class="bath" d="{_wall_path(outer, outer + _BATH)}" fill-opacity="{bath}"/>',
        f'<path class="heat" data-glass="" d="{wall}" fill-opacity="{glass}"/>',
        f'<path class="slurry" d="{_u(_BORE_PX, surface)}Z"/>',
        *_rings(shape, now, surface),
        *_granules(shape, now, surface),
        *_chains(shape, now, surface),
        *_enzymes(shape, now, surface),
        f'<path class="glass" d="{_u(_BORE_PX)}{_u(outer)}"/>',
        f'<path class="surface" d="M{_n(-_BORE_PX)} {_n(surface)}H{_n(_BORE_PX)}"/>',
        _stirrer(now, surface),
    ]
    box = f"{_n(-_HALF_WIDTH)} 0 {_n(2 * _HALF_WIDTH)} {_n(_HEIGHT)}"
    svg = (
        f'<svg class="tube-cut" data-granule="{_n(GRANULE)}" data-gap="{_n(_GAP)}" viewBox="{box}" '
        f'role="img" aria-label="{escape(title, quote=True)}">' + "".join(parts) + "</svg>"
    )
    return Drawing(svg, title)
