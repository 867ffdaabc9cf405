"""The command line: parse, call one use case, render."""

from __future__ import annotations

import os

# Before numpy is loaded. Our systems are small: threads of linear algebra wait longer for each other than
# they compute as soon as anything else runs here (a page over four files: 33 s, one thread 2 s).
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
