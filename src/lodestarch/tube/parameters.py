"""Named, frozen parameter sets; every constant with its own standing.

The shipped sets were fitted to the targets of ``data/targets.toml``: what they return at those points are
calibration residuals, never validation.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any, Final

import numpy as np

from lodestarch.common.arrays import FloatArray
from lodestarch.common.errors import OutOfRange, UnknownName
from lodestarch.common.provenance import Provenance
from lodestarch.method.liquefaction import ln_from_fn
from lodestarch.tube.layout import PARAMETER_COLUMNS
from lodestarch.tube.standing import Standing

__all__ = ["LUMPED", "Constant", "ParameterSet", "constants", "set_names", "shipped_set", "source_text"]

LUMPED: Final = ("paste_exponent", "paste_energy_j_mol", "paste_time_s", "cutting_rate_per_s")
"""The four lumped constants q, H, t_ref, b. A reading fixes only ratios to the flow index of the paste."""


@dataclass(frozen=True, slots=True)
class Constant:
    """One constant of the model.

    Parameters
    ----------
    key, symbol, unit : str
        Name in code with its unit, symbol in the equations, unit symbol.
    value : float
        Value in ``unit``.
    provenance : Provenance
        Its standing.
    source : str
        Key of a source in ``data/sources.toml``, or text where a lab entered it.
    note : str
        What to know about it.
    """

    key: str
    symbol: str
    unit: str
    value: float
    provenance: Provenance
    source: str
    note: str = ""


def _read(name: str) -> dict[str, Any]:
    return tomllib.loads((files("lodestarch.tube") / "data" / name).read_text(encoding="utf-8"))


@cache
def constants() -> Mapping[str, Constant]:
    """Return the constants as shipped, by key."""
    table = {
        key: Constant(
            key, c["symbol"], c["unit"], float(c["value"]), Provenance(c["provenance"]), c["source"],
            c.get("note", ""),
        )
        for key, c in _read("constants.toml").items()
    }  # fmt: skip
    return MappingProxyType(table)


def source_text(key: str) -> str:
    """Return the source behind a key of ``data/sources.toml``.

    Raises
    ------
    UnknownName
        When there is no such source.
    """
    sources = _read("sources.toml")
    if key not in sources:
        raise UnknownName("source", key, tuple(sources))
    return str(sources[key])


@dataclass(frozen=True, slots=True)
class ParameterSet:
    """A named set of all constants.

    Parameters
    ----------
    name : str
        Name of the set.
    table : mapping of str to Constant
        Every constant by key.
    standing : Standing
        Uncalibrated, or fitted to a lab's own runs.
    fitted : tuple of str
        Keys that a fit moved.
    assumed : tuple of str
        Keys set by hand before that fit, because no source fixes them.
    """

    name: str
    table: Mapping[str, Constant] = field(repr=False)
    standing: Standing = Standing.UNCALIBRATED
    fitted: tuple[str, ...] = ()
    assumed: tuple[str, ...] = ()

    def __getitem__(self, key: str) -> float:
        """Return the value of a constant.

        Raises
        ------
        UnknownName
            When there is no such constant.
        """
        try:
            return self.table[key].value
        except KeyError:
            raise UnknownName("constant of the tube", key, tuple(self.table)) from None

    @property
    def offset(self) -> float:
        """LN of enzyme-free meal, a = 6000/(FN_0 - 50). [1]"""
        return ln_from_fn(self["enzyme_free_seconds"])

    @property
    def decay_85_per_s(self) -> float:
        """First-order decay of the enzyme at 85 °C. [1/s]"""
        energy = self["decay_energy_j_mol"] / self["gas_constant_j_molk"]
        return float(self["decay_prefactor_per_s"] * np.exp(-energy / 358.15))

    @property
    def shells(self) -> int:
        """Number of shells of equal thickness."""
        return int(self["shells"])

    def vector(self) -> FloatArray:
        """Return the row that the kernels read, in the order of ``layout.PARAMETER_COLUMNS``."""
        return np.array([self.table[key].value for key in PARAMETER_COLUMNS])

    def replaced(
        self,
        name: str,
        values: Mapping[str, float],
        provenance: Provenance,
        source: str,
        *,
        standing: Standing | None = None,
    ) -> ParameterSet:
        """Return a set under another name in which some constants have other values and standing.

        Raises
        ------
        UnknownName
            When a key is no constant of the model.
        OutOfRange
            When a value is not above zero (a flag may be zero), or shells are not 2 to 64.
        """
        table = dict(self.table)
        for key, value in values.items():
            if key not in table:
                raise UnknownName("constant of the tube", key, tuple(table))
            low, high = _bounds(key)
            if not low <= value <= high:
                raise OutOfRange(key, value, low, high, table[key].unit)
            table[key] = replace(
                table[key], value=float(value), provenance=provenance, source=source, note=""
            )
        return ParameterSet(
            name, MappingProxyType(table), standing or self.standing, self.fitted, self.assumed
        )


def _bounds(key: str) -> tuple[float, float]:
    if key == "damage_per_starch":
        return 0.0, 1.0
    if key == "shells":
        return 2.0, 64.0
    if key == "enzyme_free_seconds":
        return 60.0, 100000.0
    return 5e-324, 1.7e308


def set_names() -> tuple[str, ...]:
    """Return the names of the shipped sets."""
    return tuple(_read("sets.toml"))


@cache
def shipped_set(name: str = "ref") -> ParameterSet:
    """Return a shipped parameter set.

    Parameters
    ----------
    name : str
        ``ref``, or one fitted under another assumption: ``f0-550`` and ``f0-700`` (enzyme-free reading),
        ``film-plus`` and ``film-minus`` (heat transfer), ``kd-plus`` and ``kd-minus`` (decay times 3, over
        3), ``n5``, ``n3``, ``n2`` (fewer shells).

    Raises
    ------
    UnknownName
        When there is no such set.

    Examples
    --------
    >>> ref = shipped_set()
    >>> ref["paste_time_s"], ref.offset, round(ref.decay_85_per_s, 5)
    (540.0, 15.0, 0.01377)
    """
    sets = _read("sets.toml")
    if name not in sets:
        raise UnknownName("parameter set", name, tuple(sets))
    line = sets[name]
    base = ParameterSet(name, constants(), Standing(line["standing"]))
    base = base.replaced(name, line["assumed"], Provenance.DERIVED, "assumed")
    base = base.replaced(name, line["fitted"], Provenance.DERIVED, "own-fit")
    return replace(base, fitted=tuple(line["fitted"]), assumed=tuple(line["assumed"]))
