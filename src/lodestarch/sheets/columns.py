"""The columns of a bench sheet and of a sample sheet: name, form, and what a bad cell does to its row."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum, auto
from typing import Final

from lodestarch.method.reading import CAUSES

__all__ = ["BENCH", "KINDS", "MOISTURE_ON", "SAMPLE", "Column", "Form"]


class Form(Enum):
    """How the cells of a column are read."""

    KEY = auto()
    """Text by which things are found again; an unreadable one refuses its row."""
    TEXT = auto()
    NUMBER = auto()
    """A quantity of the nomenclature under the column's own name."""
    SECONDS = auto()
    YES_NO = auto()
    MOMENT = auto()
    DATE = auto()
    ONE_OF = auto()
    CAUSE = auto()
    """A pick from ``method.reading.CAUSES``; anything else refuses its row."""


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a sheet.

    Parameters
    ----------
    name : str
        Its header, and its name in the frames of ``method.table``.
    form : Form
        How its cells are read.
    required : bool
        The sheet cannot be read without it.
    choices : tuple of str
        What a cell may say, for :attr:`Form.ONE_OF` and :attr:`Form.CAUSE`.
    """

    name: str
    form: Form
    required: bool = False
    choices: tuple[str, ...] = ()

    @property
    def refuses(self) -> bool:
        """True where a bad cell refuses its row; elsewhere the cell is left empty and the row is taken."""
        return self.form in {Form.KEY, Form.SECONDS, Form.CAUSE}


KINDS: Final = ("load", "bin", "composite", "check", "retest")
"""What a sample can be."""

MOISTURE_ON: Final = ("grain", "meal")
"""What the moisture was measured on."""

BENCH: Final = (
    Column("ticket", Form.TEXT),
    Column("sample", Form.KEY, required=True),
    Column("profile", Form.TEXT),
    Column("run", Form.KEY),
    Column("bath", Form.TEXT),
    Column("position", Form.KEY),
    Column("tube_id", Form.TEXT),
    Column("stirrer_id", Form.TEXT),
    Column("seconds", Form.SECONDS, required=True),
    Column("moisture_pct", Form.NUMBER),
    Column("mass_g", Form.NUMBER),
    Column("pressure_hpa", Form.NUMBER),
    Column("corrected_by_instrument", Form.YES_NO),
    Column("analyst", Form.TEXT),
    Column("run_at", Form.MOMENT),
    Column("set_aside_cause", Form.CAUSE, choices=CAUSES),
)
"""A row a tube."""

SAMPLE: Final = (
    Column("ticket", Form.TEXT),
    Column("sample", Form.KEY, required=True),
    Column("kind", Form.ONE_OF, choices=KINDS),
    Column("material", Form.TEXT),
    Column("grower", Form.TEXT),
    Column("origin", Form.TEXT),
    Column("variety", Form.TEXT),
    Column("harvest_date", Form.DATE),
    Column("tonnes", Form.NUMBER),
    Column("bin", Form.TEXT),
    Column("received_at", Form.MOMENT),
    Column("ground_mass_g", Form.NUMBER),
    Column("mill_id", Form.TEXT),
    Column("ground_at", Form.MOMENT),
    Column("moisture_method", Form.TEXT),
    Column("moisture_on", Form.ONE_OF, choices=MOISTURE_ON),
    Column("moisture_at", Form.MOMENT),
)
"""A row a sample."""
