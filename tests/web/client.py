"""The framework's test client, by the HTTP library that the development lock has."""

from __future__ import annotations

import warnings

from starlette.exceptions import StarletteDeprecationWarning

with warnings.catch_warnings():
    # It asks for a successor of the library; until that one is in the lock, this one serves as well.
    warnings.simplefilter("ignore", StarletteDeprecationWarning)
    from starlette.testclient import TestClient

__all__ = ["TestClient"]
