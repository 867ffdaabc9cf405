from __future__ import annotations

import sys
from pathlib import Path

# The judge of the stated intervals is shared with the long run in benchmarks/.
sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "benchmarks"))
