"""The form of the page Season: its text fields and the files that were dropped in, read within limits."""

from __future__ import annotations

from pathlib import PurePath
from typing import Final

from starlette.datastructures import UploadFile
from starlette.requests import Request

__all__ = ["read_season_form"]

_MOST_FILES: Final = 6
_MOST_FIELDS: Final = 20
_LONGEST_NAME: Final = 120


async def read_season_form(request: Request) -> tuple[dict[str, str], list[tuple[str, bytes]]]:
    """Read a posted form; the guard has seen that it is not too large.

    Returns
    -------
    fields : dict of str to str
    files : list of (str, bytes)
        Their names without folders, in the order sent; a file field that was left alone is none.
    """
    fields: dict[str, str] = {}
    files: list[tuple[str, bytes]] = []
    async with request.form(max_files=_MOST_FILES, max_fields=_MOST_FIELDS) as form:
        for name, value in form.multi_items():
            if isinstance(value, UploadFile):
                said = PurePath((value.filename or "").replace("\\", "/")).name[:_LONGEST_NAME]
                if said:
                    files.append((said, await value.read()))
            else:
                fields.setdefault(name, value)
    return fields, files
