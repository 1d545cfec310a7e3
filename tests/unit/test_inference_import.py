"""experta is imported whole, and the import leaves nothing behind."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from importlib.util import find_spec
from pathlib import Path

import pytest


def test_experta_imports_whole_and_leaves_no_trace() -> None:
    code = (
        "import collections, logging\n"
        "from lapwise.engine.inference.experta_import import experta\n"
        "assert experta.KnowledgeEngine and experta.Rule and experta.MATCH\n"
        "assert not hasattr(collections, 'Mapping')\n"
        "assert logging.root.handlers == []\n"
        "print('whole')\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.stdout == "whole\n", done.stderr
    assert done.stderr == ""


def test_an_experta_that_did_not_load_is_refused() -> None:
    code = (
        "import sys, types\n"
        "hollow = types.ModuleType('experta')\n"
        "sys.modules['experta'] = hollow\n"
        "try:\n"
        "    import lapwise.engine.inference.experta_import\n"
        "except ImportError as error:\n"
        "    print(error)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert "KnowledgeEngine is missing" in done.stdout, done.stderr


ROOT = Path(__file__).parents[2]
USES = """
import random, sys
from lapwise.engine.inference.evaluator import PlainRules
from lapwise.engine.inference.run import RuleEngine
from tests.unit.inference_samples import knowledge, some_facts, some_rules
rng = random.Random(12)
for _ in range(8):
    base = knowledge(*some_rules(rng, 20))
    engine = RuleEngine(base)
    for _ in range(6):
        facts = some_facts(rng)
        assert engine.run(facts) == PlainRules(base).run(facts)
print(len(base.rules), *sys.version_info[:2])
"""
"""All that is used of experta: facts, patterns, not, the network, the agenda, reset, declare and run."""


def interpreters() -> dict[str, str]:
    """Version to program: this Python, and every other from 3.11 on that is on hand."""
    out = {f"{sys.version_info[0]}.{sys.version_info[1]}": sys.executable}
    for minor in range(11, 20):
        versions = Path(os.environ.get("PYENV_ROOT", Path.home() / ".pyenv")) / "versions"
        places = [*sorted(versions.glob(f"3.{minor}.*/bin/python3")), shutil.which(f"python3.{minor}")]
        if found := [str(place) for place in places if place and "shims" not in str(place)]:
            out.setdefault(f"3.{minor}", found[0])
    return out


@pytest.mark.parametrize("version", interpreters())
def test_what_is_used_of_experta_runs_without_a_warning(version: str, tmp_path: Path) -> None:
    found = find_spec("experta")  # not imported here: it would be without what is lent to it
    assert found is not None
    assert found.origin is not None
    packages = str(Path(found.origin).parents[1])  # plain Python, as frozendict and schema are: any version reads it
    done = subprocess.run(
        [interpreters()[version], "-P", "-W", "error", "-c", USES],
        capture_output=True,
        text=True,
        check=False,
        cwd=tmp_path,
        env={
            "PYTHONPATH": os.pathsep.join((str(ROOT / ".dev"), str(ROOT), packages)),
            "PYTHONPYCACHEPREFIX": str(tmp_path),  # compiled anew: a warning of the compiler counts
            "PATH": os.environ["PATH"],
        },
    )
    assert done.stdout == f"20 {version.replace('.', ' ')}\n", done.stderr
