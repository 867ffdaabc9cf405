"""The workbench in the browser: server-rendered pages, read-only, and the same as JSON.

Routes parse, call one function of the source, and render; no rule of the trade lives here.

- ``source``: what the pages ask for; the use cases give it.
- ``app``: the application, put together.
- ``guard``: who may ask, from which address, and what every answer carries.
- ``pages``: the pages.
- ``api``: the same as JSON.
- ``views``: what a page shows, as values.
- ``render``: templates, escaped, with assets named by their contents.
"""

from __future__ import annotations
