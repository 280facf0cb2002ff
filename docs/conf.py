"""How the documents are built: `sphinx-build -W docs docs/_build`. Offline: no font, script or picture from elsewhere.

Before the pages are read, those that follow from the code's own tables are written into docs/generated/.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE), str(HERE.parent)]

import tables  # noqa: E402 (found beside this file only after the line above)

import advisor  # noqa: E402

project = "advisor"
author = "the advisor maintainers"
copyright = f"2026, {author}"
version = release = advisor.__version__

extensions = ["myst_parser", "sphinx.ext.autodoc", "sphinx.ext.napoleon", "sphinx_click"]
exclude_patterns = ["_build", "tables", "templates"]
myst_enable_extensions = ["deflist"]
myst_heading_anchors = 3

napoleon_google_docstring = False
napoleon_use_rtype = False
napoleon_use_param = True
napoleon_use_ivar = True
autodoc_typehints = "signature"
# by its name, not with the pattern of RFC 3339
autodoc_type_aliases = {"Time": "Time"}
autodoc_member_order = "bysource"
autodoc_default_options = {"members": True}

# quotation marks stay as the tables have them
smartquotes = False

html_theme = "furo"
templates_path = ["templates"]
html_title = f"advisor {version}"
html_copy_source = False
html_show_sphinx = False
html_last_updated_fmt = None


def no_fields(app: Any, what: str, name: str, obj: Any, *rest: Any) -> tuple[str, None] | None:
    """No signature for a structure of ours: its fields stand in a list below it."""
    return ("", None) if what == "class" and name.startswith("advisor.") and hasattr(obj, "__match_args__") else None


def setup(app: Any) -> None:
    """Write the pages that follow from tables, and turn source keys in docstrings into links."""
    app.connect("builder-inited", lambda app: tables.write(Path(app.srcdir) / "generated"))
    app.connect("autodoc-process-signature", no_fields)
    # before napoleon, which comes at 500
    app.connect("autodoc-process-docstring", tables.link_references, priority=100)
