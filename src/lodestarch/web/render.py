"""Templates, escaped, with assets named by their contents."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from functools import lru_cache
from importlib.resources import files
from typing import Any, Final
from urllib.parse import quote

from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape
from starlette.requests import Request
from starlette.responses import HTMLResponse

from lodestarch.web.places import places_of
from lodestarch.words.catalogues import DEFAULT_LOCALE, term
from lodestarch.words.face import drawing_css, roles_css
from lodestarch.words.numbers import DASH, figure, number
from lodestarch.words.times import when

__all__ = ["FACES", "asset", "face_of", "generated_css", "page"]

FACES: Final = ("system", "light", "dark")
_FACE_COOKIE: Final = "lodestarch_face"


@lru_cache(maxsize=1)
def generated_css() -> str:
    """Colours and rules for pictures, which page and paper share."""
    return roles_css() + drawing_css()


@lru_cache
def asset(name: str) -> str:
    """Address of a file under ``static``, with a digest, so that a browser never keeps an old one."""
    if name == "css/face.css":
        data = generated_css().encode()
    else:
        data = files("lodestarch.web").joinpath("static", *name.split("/")).read_bytes()
    return f"/static/{name}?v={hashlib.sha256(data).hexdigest()[:12]}"


def _path(*parts: str) -> str:
    """An address from its parts, each escaped as a whole."""
    return "/" + "/".join(quote(part, safe="") for part in parts)


@lru_cache(maxsize=1)
def _environment() -> Environment:
    env = Environment(
        loader=PackageLoader("lodestarch.web", "templates"),
        autoescape=select_autoescape(default=True, default_for_string=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )

    def words(name: str, /, **values: object) -> str:
        return term(name, DEFAULT_LOCALE, **values)

    env.globals.update(
        t=words, asset=asset, path=_path, number=number, figure=figure, when=when, dash=DASH, faces=FACES
    )
    env.globals["field"] = env.get_template("fields.html.j2").module.field  # type: ignore[attr-defined] # a macro
    return env


def face_of(request: Request) -> str:
    """Light or dark, as chosen on this computer; otherwise as the system says."""
    chosen = request.cookies.get(_FACE_COOKIE, "system")
    return chosen if chosen in FACES else "system"


def page(
    request: Request,
    template: str,
    *,
    status: int = 200,
    headers: Mapping[str, str] | None = None,
    **values: Any,
) -> HTMLResponse:
    """Fill a template and answer with it."""
    app = request.scope.get("app")
    before, behind = places_of(entering=app is not None and app.state.entering)
    body = (
        _environment()
        .get_template(template)
        .render(face=face_of(request), locale=DEFAULT_LOCALE, places=before, last_places=behind, **values)
    )
    return HTMLResponse(body, status_code=status, headers=dict(headers or {}))
