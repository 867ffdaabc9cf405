"""``python -m lodestarch``: the same as the command."""

from __future__ import annotations

from lodestarch.cli.app import main

if __name__ == "__main__":
    main()
