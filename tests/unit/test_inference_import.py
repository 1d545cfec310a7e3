"""experta is imported whole, and the import leaves nothing behind."""

from __future__ import annotations

import subprocess
import sys


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
