"""What is installed with the package, by extra: parts, licences, sizes, import times; and a list in CycloneDX.

python tests/measures/supply.py [--write] [--sbom FILE]      --write: SUPPLY.md beside this file
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tomllib
from importlib.metadata import Distribution, PackageNotFoundError, distribution
from pathlib import Path

from packaging.requirements import Requirement

ROOT = Path(__file__).parents[2]
EXTRAS = ("", "web", "pdf", "slots", "desk", "record", "postgres", "archive", "docs", "dev")
# a module a package where the name is another
MODULES = {"pillow": "PIL", "tree-sitter": "tree_sitter", "tree-sitter-toml": "tree_sitter_toml", "psycopg": "psycopg"}


def parts(wanted: list[str], found: dict[str, Distribution] | None = None, lost: set[str] | None = None) -> tuple:
    """Everything that requirements bring here, by name, and what is not installed."""
    found, lost = {} if found is None else found, set() if lost is None else lost
    for text in wanted:
        one = Requirement(text)
        name = one.name.lower().replace("_", "-")
        # an extra that was asked for brings its own
        asked = [{"extra": extra} for extra in (*one.extras, "")]
        if (name in found and not one.extras) or (one.marker and not one.marker.evaluate({"extra": ""})):
            continue
        try:
            found[name] = distribution(one.name)
        except PackageNotFoundError:
            lost.add(name)
            continue
        needs = [Requirement(need) for need in found[name].requires or []]
        below = [need for need in needs if need.marker is None or any(need.marker.evaluate(env) for env in asked)]
        for need in below:
            need.marker = None
        # with an extra it may have been here before without, and needs more; what it needs is here by then
        parts(
            [str(need) for need in below if need.extras or need.name.lower().replace("_", "-") not in found],
            found,
            lost,
        )
    return found, lost


def licence(one: Distribution) -> str:
    meta = one.metadata
    classed = [line.rsplit(" :: ", 1)[1] for line in meta.get_all("Classifier", []) if line.startswith("License :: ")]
    said = meta.get("License-Expression") or "; ".join(classed) or (meta.get("License") or "").split("\n")[0]
    return said.strip()[:60] or "not said"


def size_mb(one: Distribution) -> float:
    files = [Path(str(one.locate_file(name))) for name in one.files or []]
    return sum(file.stat().st_size for file in files if file.is_file()) / 1e6


def import_ms(names: list[str]) -> float:
    """Least of three, by the processor's clock, in a process of its own, over an empty one."""
    code = "import time; a = time.process_time()\n{}\nprint((time.process_time() - a) * 1000)"
    lines = "\n".join(f"try:\n import {name}\nexcept ImportError: pass" for name in names)
    command = [sys.executable, "-c", code.format(lines)]
    return min(float(subprocess.run(command, capture_output=True, text=True, check=True).stdout) for _ in range(3))


def table() -> str:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    wanted = {"": project["dependencies"], **project["optional-dependencies"]}
    base, _ = parts(wanted[""])
    rows, licences = [], dict[str, str]()
    for extra in EXTRAS:
        found, lost = parts(wanted[extra])
        new = {name: one for name, one in found.items() if not extra or name not in base}
        licences |= {name: f"{one.version} | {licence(one)}" for name, one in new.items()}
        modules = [
            MODULES.get(one, one.replace("-", "_")) for one in (Requirement(text).name for text in wanted[extra])
        ]
        missing = f" ({', '.join(sorted(lost))} not here)" if lost else ""
        size = sum(map(size_mb, new.values()))
        # the tools of the tests are programs more than modules
        took = "" if extra == "dev" else f"{import_ms(modules):.0f}"
        rows.append(f"| {extra or 'no extra'} | {len(new)}{missing} | {size:.0f} | {took} |")
    head = "| extra | packages more | MB more | import of its own packages, ms of processor |\n|---|---|---|---|\n"
    listed = "\n".join(f"| {name} | {licences[name]} |" for name in sorted(licences))
    below = "| package | version here | licence, as the package says |\n|---|---|---|\n"
    return head + "\n".join(rows) + f"\n\n{below}{listed}\n"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--write", action="store_true")
    parser.add_argument("--sbom", metavar="FILE")
    asked = parser.parse_args()
    made = table()
    if asked.write:
        made_by = (
            "Made by `python tests/measures/supply.py --write`; `--sbom FILE` writes the environment as CycloneDX.\n"
            "`tests/lock.txt` has the releases that the tests were run with, each with its sums."
        )
        told = f"# What is installed\n\n{made_by}\n\n"
        Path(__file__).with_name("SUPPLY.md").write_text(told + made, encoding="utf-8")
    else:
        print(made)
    if asked.sbom:
        command = [sys.executable, "-m", "cyclonedx_py", "environment", "--output-file", asked.sbom, sys.executable]
        subprocess.run(command, check=True)


if __name__ == "__main__":
    main()
