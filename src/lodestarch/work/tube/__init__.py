"""Questions to the tube model: one run, a sweep, a budget, a fit. No records needed.

- ``asked``: one tube as somebody states it; ``typed``: the same from text fields.
- ``run``, ``sweep``, ``budget``, ``fit``: a question each.
- ``sets``: shipped sets of constants, and those a lab has fitted and kept.
- ``schedule``: what the apparatus does, and when.
- ``pair``: the two tubes of the page; ``stories``: what the page can be led through.
- ``as_json``, ``history_csv``: answers as plain values and as a table.
- ``ready``: the compiled model, made ready beside other work.
"""

from __future__ import annotations
