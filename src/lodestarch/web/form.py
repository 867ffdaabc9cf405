"""A form that a page posts: text fields and at most one file, read within limits."""

from __future__ import annotations

from dataclasses import dataclass

from starlette.datastructures import UploadFile
from starlette.requests import Request

__all__ = ["Posted", "read_form"]

_MOST_FIELDS = 600
"""A sheet of 256 columns has two fields a column. A setting of ours."""
_LONGEST_FIELD = 24 * 1024 * 1024


@dataclass(frozen=True, slots=True)
class Posted:
    """What was posted."""

    fields: dict[str, list[str]]
    file_name: str
    file: bytes

    def one(self, name: str) -> str:
        """The value of a field; empty where it was not sent."""
        return self.fields.get(name, [""])[0]


async def read_form(request: Request, *, most_fields: int = _MOST_FIELDS) -> Posted:
    """Read a posted form; the guard has seen that it is not too large."""
    fields: dict[str, list[str]] = {}
    file_name, content = "", b""
    async with request.form(max_files=1, max_fields=most_fields, max_part_size=_LONGEST_FIELD) as form:
        for name, value in form.multi_items():
            if isinstance(value, UploadFile):
                file_name, content = value.filename or "", await value.read()
            else:
                fields.setdefault(name, []).append(value)
    return Posted(fields, file_name, content)
