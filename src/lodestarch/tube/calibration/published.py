"""What the shipped sets were fitted to, and the problem of fitting them again."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, replace
from importlib.resources import files

from lodestarch.common.errors import UnknownName
from lodestarch.common.provenance import Provenance
from lodestarch.method.liquefaction import ln_from_fn
from lodestarch.tube.calibration.observations import Lot, Observation, Scale
from lodestarch.tube.inputs import TubeInputs
from lodestarch.tube.parameters import ParameterSet

__all__ = ["Published", "published", "target_keys"]

_STANDARD = TubeInputs(activity=0.0)


@dataclass(frozen=True, slots=True)
class Published:
    """Observations of published figures, with the lots they speak of."""

    observations: tuple[Observation, ...]
    lots: tuple[Lot, ...]


def target_keys() -> tuple[str, ...]:
    """Names of the targets."""
    return tuple(str(line["key"]) for line in _targets())


def _targets() -> list[dict[str, object]]:
    text = (files("lodestarch.tube") / "data" / "targets.toml").read_text(encoding="utf-8")
    return list(tomllib.loads(text)["target"])


def _number(line: dict[str, object], key: str, default: float) -> float:
    value = line.get(key, default)
    return float(value) if isinstance(value, int | float) else default


def published(params: ParameterSet, *, keys: tuple[str, ...] | None = None, weights: str = "u") -> Published:
    """Return published figures as observations.

    Parameters
    ----------
    params : ParameterSet
        Its assumed enzyme-free reading enters as a target, and sets the offset of the activity.
    keys : tuple of str or None
        Any subset of ``target_keys()``; ``None`` takes all that apply.
    weights : str
        ``u`` for the assumed uncertainties (a posterior), ``weight`` for the weights of the shipped fits.

    Raises
    ------
    UnknownName
        When a key is no target, or the weights are neither.
    """
    if weights not in {"u", "weight"}:
        raise UnknownName("kind of weights", weights, ("u", "weight"))
    lines = _targets()
    for key in keys or ():
        if key not in target_keys():
            raise UnknownName("target", key, target_keys())
    observations = []
    lots: dict[str, Lot] = {}
    for line in lines:
        key = str(line["key"])
        if keys is not None and key not in keys:
            continue
        if keys is None and params["enzyme_free_seconds"] <= _number(line, "above_enzyme_free_s", 0.0):
            continue
        free = line["kind"] == "enzyme-free"
        seconds = params["enzyme_free_seconds"] if free else _number(line, "seconds", 0.0)
        level = _number(line, "ln_of_seconds", seconds)
        lot = Lot("enzyme-free", activity=0.0) if free else Lot(f"LN of {level:g} s", ln=ln_from_fn(level))
        lots[lot.name] = lot
        rise = line["kind"] == "rise"
        tube = replace(
            _STANDARD,
            mass_g=_number(line, "mass_g", _STANDARD.mass_g),
            pressure_hpa=_number(line, "pressure_hpa", _STANDARD.pressure_hpa),
        )
        u = _number(line, "u", 1.0) if weights == "u" else 1.0 / _number(line, "weight", 1.0)
        scale = Scale.SECONDS if rise else Scale.LOG
        less = _STANDARD if rise else None
        provenance = Provenance(str(line["provenance"]))
        observations.append(Observation(key, lot.name, tube, seconds, u, scale, less, provenance))
    return Published(tuple(observations), tuple(lots.values()))
