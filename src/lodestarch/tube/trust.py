"""Which limits an output carries."""

from __future__ import annotations

from typing import Final

from lodestarch.tube.inputs import TubeInputs
from lodestarch.tube.parameters import ParameterSet
from lodestarch.tube.standing import Limit, Standing

__all__ = ["limits_of", "with_limits"]

_ALIKE: Final = frozenset({"germination", "late-maturity"})
_HEAT: Final = ("film_outer_w_m2k", "film_inner_w_m2k")
_DECAY: Final = ("decay_prefactor_per_s", "decay_energy_j_mol")


def limits_of(inputs: TubeInputs | None, params: ParameterSet) -> tuple[Limit, ...]:
    """Return what an output of this set, for this tube, does not know."""
    found = [Limit.EXPLAINS_ONLY, Limit.CEILING, Limit.ORIGIN_UNSEEN, Limit.UNIT_OPEN]
    if params.standing is Standing.UNCALIBRATED:
        found.append(Limit.UNCALIBRATED)
    measured = params.standing is Standing.FITTED_HERE
    if not (measured and set(_HEAT) & set(params.fitted)):
        found.append(Limit.HEAT_UNMEASURED)
    if not (measured and set(_DECAY) & set(params.fitted)):
        found.append(Limit.DECAY_STAND_IN)
    if inputs is not None and any(name not in _ALIKE for name, _ in inputs.origins):
        found.append(Limit.ORIGIN_GUESSED)
    return tuple(found)


def with_limits(first: tuple[Limit, ...], *more: Limit) -> tuple[Limit, ...]:
    """Return limits with others added, each once."""
    return tuple(dict.fromkeys((*first, *more)))
