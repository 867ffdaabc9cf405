"""The common sheet of every paper: font and colours inside the page, running lines on each printed page."""

from __future__ import annotations

from base64 import b64encode
from functools import lru_cache
from importlib.resources import files
from typing import Final

from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape

from lodestarch.words.catalogues import term
from lodestarch.words.face import drawing_css, roles_css
from lodestarch.words.numbers import figure, number

__all__ = ["Trusted", "environment", "fonts_css", "rendered"]

# Files of the package, not code of another room: the one font that screen and paper share.
_FONTS: Final = "web/static/fonts"
_WEIGHTS: Final = {400: "Regular", 600: "Semibold"}


@lru_cache(maxsize=1)
def fonts_css() -> str:
    """The family that screen and paper share, inside the style."""
    faces = []
    for weight, name in _WEIGHTS.items():
        data = files("lodestarch").joinpath(f"{_FONTS}/SourceSans3-{name}.ttf.woff2").read_bytes()
        faces.append(
            f'@font-face {{ font-family: "Source Sans 3"; font-weight: {weight}; font-style: normal; '
            f'src: url("data:font/woff2;base64,{b64encode(data).decode()}") format("woff2"); }}'
        )
    return "\n".join(faces) + "\n"


@lru_cache(maxsize=1)
def environment() -> Environment:
    """Templates of papers; whatever is put into them is escaped."""
    env = Environment(
        loader=PackageLoader("lodestarch.report", "templates"),
        autoescape=select_autoescape(default=True, default_for_string=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    env.globals.update(term=term, number=number, figure=figure)
    return env


class Trusted(str):
    """Style that this module read from the package itself; templates take it as it is."""

    __slots__ = ()

    def __html__(self) -> str:
        return self


@lru_cache(maxsize=1)
def _style() -> Trusted:
    paper = files("lodestarch.report").joinpath("templates/paper.css").read_text("utf-8")
    return Trusted(fonts_css() + roles_css(light_only=True) + paper + drawing_css())


def rendered(template: str, *, demonstration: bool, running: str, **values: object) -> str:
    """Fill a paper's template.

    Parameters
    ----------
    template : str
        File under ``templates``.
    demonstration : bool
        Every printed page then says that its data are invented.
    running : str
        What identifies the paper, on every printed page.
    **values
        What the template shows; everything is escaped but pictures.
    """
    page = environment().get_template(template)
    return page.render(style=_style(), demonstration=demonstration, running=running, **values)
