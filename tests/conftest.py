"""One run on a shared machine can be repeated: there Hypothesis draws the same examples each time."""

from __future__ import annotations

import os

from hypothesis import settings

settings.register_profile("repeatable", derandomize=True)
if os.environ.get("CI"):
    settings.load_profile("repeatable")
