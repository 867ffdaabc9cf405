"""The pages of Set-up, in their order: one line each."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

__all__ = ["SETUP_PAGES", "SetupPage"]


@dataclass(frozen=True, slots=True)
class SetupPage:
    """One page; its word is ``setup-page.NAME``."""

    name: str
    path: str


SETUP_PAGES: Final = (
    SetupPage("bench", "/setup"),
    SetupPage("terms", "/setup/terms"),
    SetupPage("instruments", "/setup/instruments"),
    SetupPage("tokens", "/setup/tokens"),
    SetupPage("keeping", "/setup/keeping"),
    SetupPage("api", "/setup/api"),
)
