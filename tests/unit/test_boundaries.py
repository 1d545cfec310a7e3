"""The engine stands without the terminal, the command line without the screens; what is loaded late says why."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
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


def test_the_first_picture_waits_for_nothing_that_works_out_or_reads_an_answer() -> None:
    code = "import sys, lapwise.tui.app; print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    late = ("experta", "numpy", "yaml", "sqlite3", "rapidfuzz", "snowballstemmer", "lapwise.engine.diagnosis")
    assert not [name for name in done.stdout.split() if name.startswith((*late, "lapwise.engine.words.hear"))]


def test_an_import_inside_a_function_says_why() -> None:
    silent = []
    for folder in ("engine", "tui"):
        for path in sorted((ROOT / folder).rglob("*.py")):
            text = path.read_text(encoding="utf-8")
            lines = text.splitlines()
            for function in ast.walk(ast.parse(text)):
                inside = ast.walk(function) if isinstance(function, ast.FunctionDef | ast.AsyncFunctionDef) else ()
                for node in inside:
                    if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("lapwise"):
                        said = lines[node.lineno - 2 : node.lineno]
                        if not any("#" in line for line in said):
                            silent.append(f"{path.relative_to(ROOT)}:{node.lineno}")
    assert silent == []
