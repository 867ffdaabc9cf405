"""The pocket calculations: portion, bath, blend. No records needed."""

from __future__ import annotations
