"""The command line as tests call it: in process, with a data folder of its own in which the shipped files are read. And
what is shipped, for those that ask for it by name."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from tests.unit import shipped
from tests.unit.shipped import warm

from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.words.lexicon import Lexicon, lexicon
from lapwise.tui.cli.main import main

Run = Callable[..., tuple[int, str, str]]


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    """The shipped knowledge."""
    return shipped.knowledge()


@pytest.fixture(scope="module")
def lex(knowledge: Knowledge) -> Lexicon:
    """The words of it."""
    return lexicon(knowledge)


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    """``run("diagnose", ...)`` gives (exit code, stdout, stderr) at 80 columns; the data folder is tmp_path / data."""
    monkeypatch.setenv("LAPWISE_DATA", str(warm(tmp_path / "data")))
    monkeypatch.setenv("COLUMNS", "80")

    def call(*argv: object) -> tuple[int, str, str]:
        with pytest.raises(SystemExit) as stop:
            main([str(a) for a in argv])
        out = capsys.readouterr()
        assert "Traceback" not in out.out + out.err
        code = stop.value.code
        return (code if isinstance(code, int) else 1, out.out, out.err)

    return call
