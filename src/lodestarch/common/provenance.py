"""Where a number comes from."""

from __future__ import annotations

from enum import StrEnum

__all__ = ["Provenance"]


class Provenance(StrEnum):
    """Standing of a value; every constant and every stated number carries one."""

    PUBLISHED = "published"
    SECONDARY_COPY = "secondary copy"
    RECALLED = "recalled"
    COMMON_PRACTICE = "common practice"
    DERIVED = "derived"
    MEASURED_HERE = "measured here"
    ENTERED_BY_LAB = "entered by the lab"
    INVENTED = "invented"

    @property
    def needs_confirming(self) -> bool:
        """True where a lab must look the value up in its own printed standard before citing it."""
        return self in {Provenance.RECALLED, Provenance.SECONDARY_COPY, Provenance.COMMON_PRACTICE}
