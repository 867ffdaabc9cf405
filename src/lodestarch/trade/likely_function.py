"""What grain of a low or high falling number is likely to do in use: statements with sources, no numbers.

A statement apart from the trade value. Every answer carries what the number cannot tell; for malting barley
there is no verdict from the falling number at all.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from lodestarch.common.errors import UnknownName
from lodestarch.common.provenance import Provenance

__all__ = ["USES", "FunctionStatement", "Level", "likely_function"]


class Level(StrEnum):
    """On which side of what a use wants a number lies, as its buyer states it."""

    LOW = "low"
    WITHIN = "within"
    HIGH = "high"


@dataclass(frozen=True, slots=True)
class FunctionStatement:
    """A statement whose words stand in the catalogue under ``function.<code>``."""

    code: str
    source: str
    provenance: Provenance


_P, _P2 = Provenance.PUBLISHED, Provenance.SECONDARY_COPY
_ND: Final = "North Dakota Wheat Commission, statement of 2 October 2019"
_RYE: Final = "J.-M. Brümmer, chapter on rye"
_CAUSE: Final = FunctionStatement(
    "cause-unknown", "Newberry et al., Frontiers in Plant Science 9:1356 (2018); K. Münzing", _P
)
_MODERATE: Final = FunctionStatement("moderate-link", "Kiszonas et al., Cereal Chemistry 95:373 (2018)", _P)
_ABOVE: Final = FunctionStatement(
    "high-says-little", "USDA-ARS Soft Wheat Quality Laboratory, Flour Tests", _P2
)

_SAID: Final[dict[tuple[str, Level], tuple[FunctionStatement, ...]]] = {
    ("bread", Level.LOW): (FunctionStatement("bread-low", _ND, _P),),
    ("bread", Level.HIGH): (FunctionStatement("bread-high", _RYE, _P), _ABOVE),
    ("pasta", Level.LOW): (FunctionStatement("pasta-low", _ND, _P),),
    ("cake", Level.LOW): (FunctionStatement("cake-low", "NW News Network, October 2016", _P), _MODERATE),
    ("cookies", Level.LOW): (
        FunctionStatement("cookies-low", "Kiszonas et al., Cereal Chemistry 95:373 (2018)", _P),
    ),
    ("noodles", Level.LOW): (
        FunctionStatement(
            "noodles-low", "trade of soft white wheat; no study found", Provenance.COMMON_PRACTICE
        ),
    ),
    ("rye-bread", Level.HIGH): (FunctionStatement("rye-high", _RYE, _P),),
    ("feed", Level.LOW): (FunctionStatement("feed-low", "K. Münzing (MRI Detmold), praxisnah", _P),),
}

USES: Final = ("bread", "pasta", "cake", "cookies", "noodles", "rye-bread", "feed", "malting-barley")
"""Uses for which something was found."""

_MALTING: Final = FunctionStatement(
    "malting-no-verdict", "judged by germination: maltsters' intake rules; Canadian Grain Commission", _P
)


def likely_function(use: str, level: Level) -> tuple[FunctionStatement, ...]:
    """Return what is known of grain in a use, the note on what the number cannot tell last.

    Parameters
    ----------
    use : str
        One of :data:`USES`.
    level : Level
        Against what the buyer for this use wants.

    Raises
    ------
    UnknownName
        No such use.

    Examples
    --------
    >>> [s.code for s in likely_function("bread", Level.LOW)]
    ['bread-low', 'cause-unknown']
    >>> [s.code for s in likely_function("malting-barley", Level.LOW)]
    ['malting-no-verdict']
    """
    if use not in USES:
        raise UnknownName("use", use, USES)
    if use == "malting-barley":
        return (_MALTING,)
    said = _SAID.get((use, level))
    if said is None:
        said = (FunctionStatement("nothing-against" if level is Level.WITHIN else "nothing-found", "", _P),)
    return (*said, _CAUSE)
