"""What the charge of a tube is made of."""

from __future__ import annotations

import math
from dataclasses import dataclass

from lodestarch.tube.inputs import TubeInputs
from lodestarch.tube.parameters import ParameterSet

__all__ = ["Charge", "charge"]


@dataclass(frozen=True, slots=True)
class Charge:
    """Slurry of one tube.

    Parameters
    ----------
    dry_share : float
        Dry matter over the whole charge. [1]
    heat_j_kgk, density_kg_m3 : float
        Specific heat [J/(kg K)] and density [kg/m³].
    mass_g, depth_mm : float
        Mass of the charge [g] and its depth in the bore [mm].
    """

    dry_share: float
    heat_j_kgk: float
    density_kg_m3: float
    mass_g: float
    depth_mm: float


def charge(inputs: TubeInputs, params: ParameterSet) -> Charge:
    """Composition from portion, moisture and water.

    Notes
    -----
    c = m (1 - M)/(W + m); cp = cp_w (1 - c) + cp_s c; 1/ρ = (1 - c)/ρ_w + c/ρ_s; one gram a millilitre.

    Examples
    --------
    >>> from lodestarch.tube.parameters import shipped_set
    >>> c = charge(TubeInputs(ln=24.0), shipped_set())
    >>> c.dry_share, round(c.heat_j_kgk, 1), round(c.density_kg_m3, 1), round(c.depth_mm, 1)
    (0.188125, 3685.2, 1055.8, 87.5)
    """
    mass = inputs.water_ml + inputs.mass_g
    share = inputs.mass_g * (1.0 - 0.01 * inputs.moisture_pct) / mass
    heat = params["water_heat_j_kgk"] * (1.0 - share) + params["dry_heat_j_kgk"] * share
    density = 1.0 / ((1.0 - share) / params["water_density_kg_m3"] + share / params["dry_density_kg_m3"])
    area_m2 = math.pi * (0.0005 * params["bore_mm"]) ** 2
    return Charge(share, heat, density, mass, 1e3 * (1e-3 * mass / density) / area_m2)
