"""Use cases, one function each, by place.

The only place where a unit of work is opened. Clock and person come in as arguments; nothing is computed
here. ``web`` and ``cli`` parse, call one use case, render.
"""

from __future__ import annotations
