"""The shipped files are found where they are no plain files: inside a zip."""

from __future__ import annotations

import subprocess
import sys
import zipfile
from pathlib import Path

from tests.unit import shipped

import lapwise.engine

CODE = """
import sys
sys.meta_path[:] = [f for f in sys.meta_path if "editable" not in repr(f)]
sys.path[:] = [sys.argv[1]] + [p for p in sys.path if not p.endswith((".dev", "main")) and p]
from lapwise.engine.folders import folders
from lapwise.engine.knowledge import files
from lapwise.engine.knowledge.loader import load
assert all(".zip" in str(f.path) and not f.stamp for f in files.shipped_files())
print(load(folders(sys.argv[2])).knowledge.digest)
"""


def test_loading_from_a_zip(tmp_path: Path) -> None:
    base = Path(lapwise.engine.__file__).parent.parent
    archive = tmp_path / "all.zip"
    with zipfile.ZipFile(archive, "w") as stream:
        stream.mkdir("lapwise")  # a package without __init__.py needs its folder named
        for name in ("engine", "knowledge", "rules"):
            for path in sorted((base / name).rglob("*")):
                if path.suffix in (".py", ".yaml"):
                    stream.write(path, f"lapwise/{name}/{path.relative_to(base / name)}")
    ran = subprocess.run(
        [sys.executable, "-c", CODE, str(archive), str(tmp_path / "data")],
        capture_output=True,
        text=True,
        check=False,
        cwd=tmp_path,
    )
    assert ran.returncode == 0, ran.stderr
    assert ran.stdout.strip() == shipped.knowledge().digest
