"""The engine stands without the terminal: what importing all of it loads, seen in a process of its own."""

from __future__ import annotations

import subprocess
import sys

CODE = """
import importlib, pkgutil, sys
import lapwise.engine
for found in pkgutil.walk_packages(lapwise.engine.__path__, "lapwise.engine."):
    importlib.import_module(found.name)
seen = {name.split(".")[0] for name in sys.modules} & {"textual", "rich", "click"}
seen |= {name for name in sys.modules if name.startswith("lapwise.tui")}
print(" ".join(sorted(seen)))
"""


def test_the_engine_loads_nothing_of_the_terminal() -> None:
    done = subprocess.run([sys.executable, "-c", CODE], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == ""


def test_the_command_line_starts_without_the_screens() -> None:
    code = "import sys, lapwise.tui.cli.main; print('textual' in sys.modules or 'numpy' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"
