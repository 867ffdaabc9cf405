"""Origins of the enzyme, each with its own heat stability."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Final

from lodestarch.common.errors import UnknownName
from lodestarch.common.provenance import Provenance
from lodestarch.tube.parameters import ParameterSet

__all__ = ["Decay", "Origin", "decay_of", "origin", "origins"]

_KELVIN: Final = 273.15


@dataclass(frozen=True, slots=True)
class Origin:
    """One origin of enzyme.

    Parameters
    ----------
    name : str
        ``germination``, ``late-maturity``, ``barley-malt``, ``pericarp``, ``rye``, ``fungal``, ``bacterial``.
    factor : float or None
        Decay constant over that of the parameter set. [1]
    d_value_s, at_c, z_c : float or None
        Where the decay is its own: time to a tenth [s] at a temperature [°C], and the degrees that change it
        tenfold [K].
    provenance, source, note
        Standing of these figures.
    """

    name: str
    factor: float | None
    d_value_s: float | None
    at_c: float | None
    z_c: float | None
    provenance: Provenance
    source: str
    note: str


@dataclass(frozen=True, slots=True)
class Decay:
    """First-order decay: k at 85 °C [1/s] and its activation energy [J/mol]."""

    at_85_per_s: float
    energy_j_mol: float

    def at(self, temp_c: float, gas_constant: float) -> float:
        """Decay constant at a temperature. [1/s]"""
        return self.at_85_per_s * math.exp(
            -self.energy_j_mol / gas_constant * (1.0 / (temp_c + _KELVIN) - 1.0 / 358.15)
        )


@cache
def origins() -> Mapping[str, Origin]:
    """Return all origins by name."""
    text = (files("lodestarch.tube") / "data" / "origins.toml").read_text(encoding="utf-8")
    return MappingProxyType(
        {
            name: Origin(
                name, line.get("factor"), line.get("d_value_s"), line.get("at_c"), line.get("z_c"),
                Provenance(line["provenance"]), line["source"], line["note"],
            )
            for name, line in tomllib.loads(text).items()
        }
    )  # fmt: skip


def origin(name: str) -> Origin:
    """Return one origin.

    Raises
    ------
    UnknownName
        When there is none of that name.
    """
    table = origins()
    if name not in table:
        raise UnknownName("origin of enzyme", name, tuple(table))
    return table[name]


def decay_of(name: str, params: ParameterSet) -> Decay:
    """Return the decay of an origin under a parameter set.

    Notes
    -----
    From a D and z at temperature T: k = ln 10/D, and the energy whose slope d ln k/dT = E/(R T²) at T equals
    ln 10/z.

    Examples
    --------
    >>> from lodestarch.tube.parameters import shipped_set
    >>> fungal = decay_of("fungal", shipped_set())
    >>> round(fungal.at(75.0, 8.314), 5), round(fungal.at_85_per_s, 3)
    (0.00909, 0.051)
    """
    line = origin(name)
    if line.d_value_s is None or line.at_c is None or line.z_c is None:
        return Decay(params.decay_85_per_s * (line.factor or 1.0), params["decay_energy_j_mol"])
    gas = params["gas_constant_j_molk"]
    kelvin = line.at_c + _KELVIN
    energy = math.log(10.0) / line.z_c * gas * kelvin * kelvin
    rate = math.log(10.0) / line.d_value_s
    return Decay(rate * math.exp(-energy / gas * (1.0 / 358.15 - 1.0 / kelvin)), energy)
