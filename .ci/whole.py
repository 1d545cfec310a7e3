"""Whether the installed wheel and the sdist hold the whole tree: ``python whole.py SOURCE SDIST``, outside the tree.

Imports every module of the installed package, and compares its files and the sdist's with those of the source.
"""

from __future__ import annotations

import importlib
import os
import sys
import tarfile
from pathlib import Path

PARTS = ("engine", "tui", "rules", "knowledge")


def held(folder: Path) -> set[str]:
    """The files below a folder, without compiled ones, as ``part/name``."""
    return {
        str(path.relative_to(folder))
        for part in PARTS
        for path in (folder / part).rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }


def main(source: Path, sdist: Path) -> int:
    """Exit code 1 if a file is missing or too many."""
    os.chdir("/")
    sys.path = [p for p in sys.path if p and Path(p) != source]
    root = importlib.import_module("lapwise")
    installed = Path(str(root.__file__)).parent
    wanted, got = held(source), held(installed)
    names = ["lapwise." + n[:-3].replace("/", ".").removesuffix(".__init__") for n in sorted(got) if n.endswith(".py")]
    skipped = []
    for name in names:
        try:
            importlib.import_module(name)
        except ModuleNotFoundError as error:
            if error.name is None or error.name.startswith("lapwise"):
                raise
            skipped.append(f"{name} (needs the extra {error.name})")
    with tarfile.open(sdist) as archive:
        packed = {m.name.partition("/")[2] for m in archive if m.isfile()}
    tests = {
        str(p.relative_to(source))
        for p in (source / "tests").rglob("*")
        if p.is_file() and "__pycache__" not in p.parts
    }
    lost = (wanted - got) | ((wanted | tests | {"DEVELOPERS.md", "README.md"}) - packed)
    for name in sorted(lost):
        print("missing in what was built:", name)
    for name in sorted(got - wanted):
        print("installed, but not in the source:", name)
    print(f"{len(names) - len(skipped)} modules imported from the wheel, {len(got)} files;", *skipped)
    return 1 if lost or got - wanted else 0


if __name__ == "__main__":
    raise SystemExit(main(Path(sys.argv[1]).resolve(), Path(sys.argv[2]).resolve()))
