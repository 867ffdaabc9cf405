"""Columns in which a tube and a parameter set travel into the kernels."""

from __future__ import annotations

from typing import Final

__all__ = ["INPUT_COLUMNS", "PARAMETER_COLUMNS"]

INPUT_COLUMNS: Final = (
    "activity",
    "mass_g",
    "moisture_pct",
    "water_ml",
    "start_temp_c",
    "bath_temp_c",
    "wall_mm",
    "stir_from_s",
    "decay_85_per_s",
)
"""A row a tube. Station pressure has become the bath's temperature by then."""

(I_ACTIVITY, I_MASS, I_MOISTURE, I_WATER, I_START, I_BATH, I_WALL, I_STIR, I_DECAY) = range(9)

PARAMETER_COLUMNS: Final = (
    "bore_mm",
    "film_outer_w_m2k",
    "film_inner_w_m2k",
    "conductivity_w_mk",
    "glass_density_kg_m3",
    "glass_heat_j_kgk",
    "glass_conductivity_w_mk",
    "dry_density_kg_m3",
    "water_density_kg_m3",
    "water_heat_j_kgk",
    "dry_heat_j_kgk",
    "swell_mid_c",
    "swell_width_c",
    "swell_time_s",
    "decay_energy_j_mol",
    "cutting_energy_j_mol",
    "paste_exponent",
    "paste_energy_j_mol",
    "paste_time_s",
    "cutting_rate_per_s",
    "speed_cap_per_s",
    "release_s",
    "standard_dry_share",
    "gas_constant_j_molk",
    "swollen_floor",
    "shells",
    "damage_per_starch",
)
"""A row a parameter set."""

(
    P_BORE, P_FILM_OUT, P_FILM_IN, P_K, P_RHO_GLASS, P_CP_GLASS, P_K_GLASS, P_RHO_DRY, P_RHO_WATER,
    P_CP_WATER, P_CP_DRY, P_SWELL_MID, P_SWELL_WIDTH, P_SWELL_TIME, P_DECAY_ENERGY, P_CUT_ENERGY,
    P_PASTE_EXPONENT, P_PASTE_ENERGY, P_PASTE_TIME, P_CUT, P_CAP, P_RELEASE, P_DRY_SHARE, P_GAS, P_FLOOR,
    P_SHELLS, P_PER_STARCH,
) = range(27)  # fmt: skip
