"""What to install when a library of an extra is not there. Which extra brings it stands in pyproject.toml alone."""

from __future__ import annotations

import re

from advisor.errors import AdvisorError

_EXTRA = re.compile(r"(?P<package>[A-Za-z0-9._-]+).*;\s*extra\s*==\s*['\"](?P<extra>[\w-]+)['\"]")
# for people who work on this package; nobody needs them for a command
_NOT_FOR_COMMANDS = ("dev", "docs")
_PACKAGES = {"PIL": "pillow"}


def not_installed(module: str) -> AdvisorError:
    """What a user is told about a library that is missing: its name, and the command that installs it.

    module: what could not be imported, with or without a part of it after a dot.
    """
    package = _PACKAGES.get(module.split(".")[0], module.split(".")[0])
    extra = _extra_of(package)
    wanted = package if extra is None else f"'advisor[{extra}]'"
    return AdvisorError(f"{package} is not installed", hint=f"pip install {wanted}")


def _extra_of(package: str) -> str | None:
    """The extra that brings a package, None where none does or this package itself is not installed."""
    # a command that has all it needs does not wait for this
    from importlib.metadata import PackageNotFoundError, requires

    try:
        wanted = requires("advisor") or []
    except PackageNotFoundError:
        return None
    for line in wanted:
        match = _EXTRA.match(line)
        if match and match["package"] == package and match["extra"] not in _NOT_FOR_COMMANDS:
            return match["extra"]
    return None
