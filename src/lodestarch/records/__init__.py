"""What is kept: tables, the log, opening and closing, days in and out.

- ``engine``: opening records, a view, a unit of work.
- ``unit``: what can be asked and done.
- ``tables``: the tables, typed, by what they keep.
- ``log``, ``kept``, ``days``, ``people``, ``profiles``, ``personal``: how changes are written and said.
- ``lines``, ``day_frames``, ``bulk``: a hundred thousand rows at a time.
- ``sqlite``, ``server``, ``lock``, ``schema``, ``migrations``: underneath.
"""

from __future__ import annotations
