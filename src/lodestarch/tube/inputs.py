"""What goes into a tube: one tube, and many at once."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from lodestarch.common.arrays import FloatArray
from lodestarch.common.nomenclature import legal_range
from lodestarch.method.bath import boiling_point_c
from lodestarch.tube.layout import INPUT_COLUMNS
from lodestarch.tube.origins import decay_of
from lodestarch.tube.parameters import ParameterSet

__all__ = ["LEGAL", "UNITS", "VARIED", "TubeArrays", "TubeInputs", "activity_of"]

LEGAL: Final[dict[str, tuple[float, float]]] = {
    "activity": (0.0, 600.0),
    "ln": legal_range("ln"),
    "mass_g": legal_range("mass_g"),
    "moisture_pct": legal_range("moisture_pct"),
    "water_ml": legal_range("water_ml"),
    "start_temp_c": legal_range("water_temp_c"),
    "pressure_hpa": legal_range("pressure_hpa"),
    "wall_mm": (0.5, 3.0),
    "stir_from_s": (0.0, 30.0),
    "decay_85_per_s": (1e-5, 1.0),
}
"""Legal range of every input, both ends included; outside it the model refuses."""

UNITS: Final[dict[str, str]] = {
    "activity": "LN",
    "ln": "1",
    "mass_g": "g",
    "moisture_pct": "%",
    "water_ml": "mL",
    "start_temp_c": "°C",
    "pressure_hpa": "hPa",
    "wall_mm": "mm",
    "stir_from_s": "s",
    "decay_85_per_s": "1/s",
}

VARIED: Final = tuple(key for key in LEGAL if key != "ln")
"""The nine inputs that may differ from tube to tube."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TubeInputs:
    """One tube as lowered.

    Parameters
    ----------
    ln, activity : float or None
        Either the liquefaction number of the meal under standard conditions, or its enzyme in LN units above
        the enzyme-free meal, per gram of dry matter. Exactly one. [1]
    mass_g : float
        Portion as weighed. [g]  Legal 1 to 20.
    moisture_pct : float
        True moisture of the meal. [%]  Legal 5 to 30.
    water_ml : float
        Water, 1 g per mL. [mL]  Legal 10 to 50.
    start_temp_c : float
        Slurry and glass when lowered. [°C]  Legal 5 to 40.
    pressure_hpa : float
        Station pressure; it sets the bath. [hPa]  Legal 600 to 1080.
    wall_mm : float
        Glass. [mm]  Legal 0.5 to 3.
    stir_from_s : float
        Seconds from lowering to the first stroke; release stays at its own time. [s]  Legal 0 to 30.
    decay_85_per_s : float or None
        Decay of the enzyme at 85 °C, in place of that of its origin. [1/s]  Legal 1e-5 to 1.
    origins : tuple of (str, float)
        Origins of the enzyme with their shares of the activity.
    """

    ln: float | None = None
    activity: float | None = None
    mass_g: float = 7.0
    moisture_pct: float = 14.0
    water_ml: float = 25.0
    start_temp_c: float = 22.0
    pressure_hpa: float = 1013.25
    wall_mm: float = 1.4
    stir_from_s: float = 5.0
    decay_85_per_s: float | None = None
    origins: tuple[tuple[str, float], ...] = (("germination", 1.0),)

    def with_activity(self, activity: float) -> TubeInputs:
        """Return the same tube with another activity."""
        return replace(self, ln=None, activity=activity)


def activity_of(inputs: TubeInputs, params: ParameterSet) -> float:
    """Enzyme of one tube in LN units above the enzyme-free meal: A = LN - a. [1]

    Examples
    --------
    >>> from lodestarch.tube.parameters import shipped_set
    >>> activity_of(TubeInputs(ln=24.0), shipped_set())
    9.0
    """
    if inputs.activity is not None:
        return inputs.activity
    if inputs.ln is None:
        raise ValueError("a tube has ln or activity; look for findings before running it")
    return inputs.ln - params.offset


@dataclass(frozen=True, slots=True, kw_only=True)
class TubeArrays:
    """Many tubes: nine inputs, each a float or an array of one shape.

    Fields as in `TubeInputs`; ``decay_85_per_s`` of ``None`` takes the parameter set's own.
    """

    activity: float | FloatArray = 0.0
    mass_g: float | FloatArray = 7.0
    moisture_pct: float | FloatArray = 14.0
    water_ml: float | FloatArray = 25.0
    start_temp_c: float | FloatArray = 22.0
    pressure_hpa: float | FloatArray = 1013.25
    wall_mm: float | FloatArray = 1.4
    stir_from_s: float | FloatArray = 5.0
    decay_85_per_s: float | FloatArray | None = None

    @classmethod
    def like(
        cls, inputs: TubeInputs, params: ParameterSet, **varied: float | FloatArray | None
    ) -> TubeArrays:
        """Return tubes like one tube, but for the inputs named."""
        base: dict[str, float | FloatArray | None] = {
            key: getattr(inputs, key) for key in VARIED if key not in {"activity", "decay_85_per_s"}
        }
        base["activity"] = activity_of(inputs, params)
        base["decay_85_per_s"] = decay_85(inputs, params)
        return cls(**{**base, **varied})  # type: ignore[arg-type]  # keys are those of the class

    @property
    def shape(self) -> tuple[int, ...]:
        """Shape to which the inputs broadcast."""
        return np.broadcast_shapes(
            *(np.shape(v) for f in fields(self) if (v := getattr(self, f.name)) is not None)
        )

    @property
    def size(self) -> int:
        """Number of tubes."""
        return int(np.prod(self.shape, dtype=np.int64))

    def picked(self, rows: npt.NDArray[np.intp]) -> TubeArrays:
        """Return some of the tubes, by their numbers in flat order."""
        values: dict[str, Any] = {}
        for f in fields(self):
            value = getattr(self, f.name)
            scalar = value is None or np.ndim(value) == 0
            values[f.name] = value if scalar else np.broadcast_to(value, self.shape).reshape(-1)[rows]
        values["activity"] = np.broadcast_to(values["activity"], rows.shape)
        return TubeArrays(**values)

    def column(self, key: str, params: ParameterSet, start: int, stop: int) -> FloatArray:
        """Return one input of tubes ``start`` to ``stop`` in flat order."""
        value = getattr(self, key)
        if value is None:
            value = params.decay_85_per_s
        if np.ndim(value) == 0:
            return np.full(stop - start, float(value))
        if np.shape(value) == self.shape:
            return np.ravel(np.asarray(value, dtype=np.float64))[start:stop]
        # A flat iterator copies only the tubes asked for.
        return np.broadcast_to(np.asarray(value, dtype=np.float64), self.shape).flat[start:stop]

    def rows(self, params: ParameterSet, start: int = 0, stop: int | None = None) -> FloatArray:
        """Return the rows that the kernels read, for tubes ``start`` to ``stop`` in flat order."""
        stop = self.size if stop is None else stop
        rows = np.empty((stop - start, len(INPUT_COLUMNS)))
        for j, key in enumerate(INPUT_COLUMNS):
            if key == "bath_temp_c":
                rows[:, j] = boiling_point_c(self.column("pressure_hpa", params, start, stop))
            else:
                rows[:, j] = self.column(key, params, start, stop)
        return rows


def decay_85(inputs: TubeInputs, params: ParameterSet) -> float:
    """Decay of the first origin of one tube at 85 °C, or as entered. [1/s]"""
    if inputs.decay_85_per_s is not None:
        return inputs.decay_85_per_s
    return decay_of(inputs.origins[0][0], params).at_85_per_s
