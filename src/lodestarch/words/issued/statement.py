"""What a certificate states, as plain values: no name of a person or customer stands in it.

Moments are ISO 8601 text as the records keep them; ``None`` is *not stated*, and the paper says so.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = [
    "CERTIFICATE_FORM",
    "Certificate",
    "Conformity",
    "Deviation",
    "Drawn",
    "Item",
    "Lab",
    "MethodUsed",
    "Released",
    "Replaced",
    "StatedReading",
    "StatedResult",
]

CERTIFICATE_FORM = "lodestarch-certificate/1"


@dataclass(frozen=True, slots=True)
class Lab:
    """The laboratory as it names itself on paper.

    ``official`` is true only for a lab that is appointed for official tests; ``k`` is the coverage factor of
    the expanded uncertainty that it states, ``None`` where it states none.
    """

    name: str
    address: tuple[str, ...]
    contact: str = ""
    place_of_work: str = ""
    """Where the work was done, if not at the address."""
    official: bool = False
    k: float | None = 2.0
    paper: str = "a4"
    """``a4`` or ``us-letter``."""


@dataclass(frozen=True, slots=True)
class Item:
    """What was tested, without doubt which."""

    sample: str
    ticket: str | None
    kind: str
    material: str | None
    variety: str | None
    variety_how: str | None
    origin: str | None
    harvest_date: str | None
    tonnes: float | None
    mass_g: float | None
    seal: str | None
    condition: str | None
    received_at: str | None


@dataclass(frozen=True, slots=True)
class Drawn:
    """How the sample was drawn, and by whom."""

    how: str | None
    by: str | None
    probes: int | None
    increments: int | None


@dataclass(frozen=True, slots=True)
class MethodUsed:
    """The method as it was run, and the conditions that move a number."""

    profile: str
    title: str
    cites: str
    standards: tuple[str, ...]
    """Printed standards that the profile was held against."""
    signed_off_on: str
    invented: bool
    """Every field of the profile is marked as invented."""
    basis_pct: float | None
    base_mass_g: float
    tubes: int
    correction: str
    pressure_hpa: float | None
    cleaned_how: str | None
    dockage_pct: float | None
    besatz_pct: float | None
    ground_mass_g: float | None
    mill: str | None
    ground_at: str | None
    moisture_pct: float | None
    moisture_method: str | None
    moisture_on: str | None
    moisture_at: str | None


@dataclass(frozen=True, slots=True)
class StatedReading:
    """One tube; ``kind`` as in ``method.reading.Kind``: 0 exact, 1 at or below, 2 above."""

    run: str
    position: str
    seconds: float | None
    kind: int
    mass_g: float | None
    moisture_pct: float | None
    run_at: str | None
    state: str
    """``stands``, ``set-aside`` or ``run-again``."""
    cause: str | None
    replaced: bool
    """A later entry of the same reading took its place."""


@dataclass(frozen=True, slots=True)
class StatedResult:
    """What the readings say, as released. ``u_s`` and ``expanded_s`` in seconds."""

    seconds: float
    kind: int
    how: str
    tubes: int
    tubes_stated: bool
    spread_s: float | None
    limit_s: float | None
    agreement: str | None
    u_s: float | None
    k: float | None
    expanded_s: float | None
    as_is: bool
    """Portions were the base mass whatever the moisture: no moisture basis holds."""


@dataclass(frozen=True, slots=True)
class Conformity:
    """A statement of conformity under a rule that was agreed beforehand.

    ``rule``: ``simple`` (the result itself against the limit) or ``guarded`` (with a guard band of
    ``guard_s``). ``outcome``: ``meets``, ``does-not-meet``, or ``not-stated`` where the rule decides neither.
    ``risk``: largest chance that what is called meeting lies beyond the limit. [1]
    """

    specification: str
    at_least_s: float | None
    at_most_s: float | None
    rule: str
    guard_s: float
    risk: float | None
    agreed_on: str
    outcome: str


@dataclass(frozen=True, slots=True)
class Deviation:
    """An addition to, deviation from or exclusion from the method; ``code`` names its sentence."""

    code: str
    count: int = 0
    text: str = ""
    value: float | None = None


@dataclass(frozen=True, slots=True)
class Released:
    """The release that the certificate states."""

    key: str
    at: str
    by_rule: bool


@dataclass(frozen=True, slots=True)
class Replaced:
    """An earlier certificate that this one stands in place of."""

    number: str
    issued_at: str
    reason: str
    result_before: str
    """What the earlier one stated, as written there."""


@dataclass(frozen=True, slots=True)
class Certificate:
    """Everything that a certificate of test states but names."""

    form: str
    number: str
    site: str
    issued_at: str
    locale: str
    demonstration: bool
    software: str
    lab: Lab
    item: Item
    drawn: Drawn
    method: MethodUsed
    readings: tuple[StatedReading, ...]
    result: StatedResult
    conformity: Conformity | None
    deviations: tuple[Deviation, ...]
    released: Released
    replaces: Replaced | None
    opinion: str | None
    """An opinion or interpretation; only where the customer asked for one."""
