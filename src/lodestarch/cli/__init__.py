"""The command line: parse, call one use case, render."""

from __future__ import annotations

import os

# Before numpy is loaded. Our systems are small: threads of linear algebra wait for each other longer than they
# compute as soon as anything else runs on the machine (a page over four files: 33 s, one thread 2 s).
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
