"""How far an output of the model may be trusted, as codes; the sentences live in ``words``."""

from __future__ import annotations

from enum import StrEnum

__all__ = ["Limit", "Standing"]


class Standing(StrEnum):
    """Standing of a parameter set."""

    UNCALIBRATED = "uncalibrated"
    """Fitted to a handful of published figures; feasible, not validated."""
    FITTED_HERE = "fitted-here"
    """Fitted to a lab's own runs; good for that bench and those meals, if for any."""


class Limit(StrEnum):
    """What an output does not know; every output carries those that apply."""

    EXPLAINS_ONLY = "tube-explains-only"
    """Explains and ranks; never corrects a result."""
    UNCALIBRATED = "tube-uncalibrated"
    """The set in use has not been fitted to measurements of this bench."""
    HEAT_UNMEASURED = "tube-heat-unmeasured"
    """No measured temperature in this tube is known; film coefficients are guesses."""
    DECAY_STAND_IN = "tube-decay-stand-in"
    """Decay of the enzyme is that of barley malt in mash."""
    CEILING = "tube-ceiling"
    """The set cannot return a reading above its own enzyme-free one."""
    ORIGIN_UNSEEN = "tube-origin-unseen"
    """A reading does not tell sprouting from other causes."""
    NO_MEASUREMENT = "tube-no-measurement"
    """No published measurement of this effect is known: model only."""
    FLOUR_NOT_MEAL = "tube-flour-not-meal"
    """The effect of mass was fitted to one pair on flour."""
    OTHER_GRAIN = "tube-other-grain"
    """The form should hold for this grain; the constants do not."""
    ORIGIN_GUESSED = "tube-origin-guessed"
    """Heat stability of this origin is a bound or a range, not a measurement in the tube."""
    UNIT_OPEN = "tube-unit-open"
    """Activity is relative; no conversion to enzyme units is known."""
    SATURATION_OPEN = "tube-saturation-open"
    """Whether cuts go as enzyme or as enzyme over starch is not known; it decides what a portion does."""
