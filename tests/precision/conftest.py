from __future__ import annotations

import sys
from pathlib import Path

# The judge of the stated intervals is shared with the long run in benchmarks/; behind the tests' own modules,
# since benchmarks/ has one named bench_day as well.
sys.path.append(str(Path(__file__).resolve().parents[2] / "benchmarks"))
