"""The documentation as pages: Markdown of `docs/`, docstrings of the pure rooms, our own plain theme."""

from __future__ import annotations

from importlib.metadata import version as version_of
from pathlib import Path
from types import GenericAlias
from typing import TypeVar

from sphinx.application import Sphinx

HERE = Path(__file__).resolve().parent

project = "Lodestarch"
author = "the Lodestarch project"
project_copyright = "the Lodestarch project"
release = version_of("lodestarch")
language = "en"

extensions = ["myst_parser", "sphinx.ext.autodoc", "numpydoc"]
root_doc = "index"
exclude_patterns = ["_site"]

myst_heading_anchors = 4
myst_enable_extensions = ["dollarmath"]

# Docstrings carry types in their signature and again, with units, in their text: once is enough.
autodoc_typehints = "none"
autodoc_member_order = "bysource"
autodoc_default_options = {"members": True, "show-inheritance": True}
numpydoc_show_class_members = False
numpydoc_xref_param_type = False
# The same short name in two rooms (a lot in a blend, a lot at a price) is no mistake of the page.
# Examples are set without colours: a language that the highlighter does not know loses nothing.
suppress_warnings = ["ref.python", "misc.highlighting_failure"]
add_module_names = False
python_use_unqualified_type_names = True

html_theme = "lodestarch"
html_theme_path = [str(HERE / "theme")]
html_title = "Lodestarch"
html_copy_source = False
html_show_sphinx = False
html_permalinks_icon = "§"

pygments_style = "bw"


def setup(app: Sphinx) -> None:
    """Leave out what autodoc can't tell of: type variables and names for tuple types."""
    app.connect(
        "autodoc-skip-member",
        lambda _app, _what, _name, value, skip, _opts: skip or isinstance(value, TypeVar | GenericAlias),
    )
