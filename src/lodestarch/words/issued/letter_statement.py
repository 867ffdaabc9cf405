"""What a letter to a grower states, as plain values: no name of a person stands in it."""

from __future__ import annotations

from dataclasses import dataclass

from lodestarch.words.issued.statement import Lab

__all__ = ["LETTER_FORM", "Again", "Letter", "LetterLimit", "LetterPrice"]

LETTER_FORM = "lodestarch-letter/1"


@dataclass(frozen=True, slots=True)
class LetterLimit:
    """The limit that the number is held against, and whose it is."""

    whose: str
    at_least_s: float | None
    at_most_s: float | None


@dataclass(frozen=True, slots=True)
class Again:
    """What another test of the same grain may say.

    ``sd_s``: standard deviation of such a test about this result. [s]  ``p``: chance that it meets the limit
    [1], ``None`` without a limit. ``elsewhere``: the test is another laboratory's.
    """

    sd_s: float
    p: float | None
    elsewhere: bool


@dataclass(frozen=True, slots=True)
class LetterPrice:
    """What the load may bring at one buyer, in the unit of the place. ``p`` is the chance there. [1]"""

    buyer: str
    net: float
    currency: str
    per: str
    p: float | None


@dataclass(frozen=True, slots=True)
class Letter:
    """Everything that a letter states but names.

    ``certificate``: number of the certificate that stands. ``keep_until``: day until which the rest of the
    sample is kept. ``sprouted``: sprouted grains were seen, or the number is low enough to fear it.
    """

    form: str
    number: str
    site: str
    issued_at: str
    locale: str
    demonstration: bool
    software: str
    lab: Lab
    sample: str
    ticket: str | None
    material: str | None
    variety: str | None
    tonnes: float | None
    received_at: str | None
    seconds: float
    kind: int
    tubes: int
    basis_pct: float | None
    limit: LetterLimit | None
    again: Again | None
    state: str
    """``makes-it``, ``too-close``, ``under``, ``over``, ``no-limit`` or ``not-evaluated``."""
    sprouted: bool
    certificate: str | None
    keep_until: str | None
    prices: tuple[LetterPrice, ...]
    terms_as_of: str | None
