"""The screens in a real terminal (tmux): by keys alone, by mouse alone, and with the plug pulled."""

from __future__ import annotations

import os
import shutil
import signal
import time
from pathlib import Path

import pytest
from tests.tui.terminal import Terminal

from lapwise.engine.diagnosis.session import Session
from lapwise.engine.folders import Folders
from lapwise.engine.knowledge.loader import load
from lapwise.engine.record.store import Record
from lapwise.tui.sample import DEMO

pytestmark = [
    pytest.mark.e2e,
    pytest.mark.skipif(shutil.which("tmux") is None, reason="tmux is not installed: terminal runs left out"),
]


@pytest.fixture(autouse=True)
def at_home(monkeypatch: pytest.MonkeyPatch, plain_surroundings: None, request: pytest.FixtureRequest) -> None:
    monkeypatch.chdir(request.config.rootpath)


def on_disk(where: Folders) -> None:
    """Wait until an open case with something seen is on disk."""
    for _ in range(200):
        if where.record.exists():
            with Record.open(where, readonly=True) as record:
                if any(kept.case.symptoms for kept in record.open_cases()):
                    return
        time.sleep(0.05)
    raise AssertionError("the case was not kept")


def choose(terminal: Terminal, line: str, word: str, label: str) -> None:
    """From the set-up list: the line, then the word typed, then what must stand in the list, which comes back."""
    terminal.wait("On the machine")
    terminal.keys(f"={line}", "Enter")
    terminal.wait("On the machine", gone=True)
    terminal.wait("type to filter")
    terminal.keys(f"={word}", "Enter")
    terminal.wait("On the machine", label)


def test_the_demo_case_typed_by_keys_to_a_recipe_card(where: Folders, tmp_path: Path) -> None:
    (where.config / "screens.json").unlink()
    expected = Session(load(where).knowledge).answer(DEMO)
    with Terminal(where.data) as terminal:
        terminal.wait("Welcome to the bench")
        terminal.keys("Enter")
        terminal.wait("Say what is seen")
        terminal.keys("m")
        choose(terminal, "stone", "spessartine", "Spessartine")
        choose(terminal, "lap", "tin-alloy", "Tin-alloy")
        choose(terminal, "compound", "50000 diamond", "50000 diam")
        choose(terminal, "before", "diamond 3000", "3000 diam")
        terminal.keys("Escape")
        terminal.wait("On the machine", gone=True)
        terminal.keys("s")
        terminal.wait("What do you see")
        terminal.keys("=part of the facet", "Enter")
        terminal.wait("What to try", "%")
        terminal.keys("a")
        terminal.wait("What else do you know")
        terminal.keys("=how many facets", "Enter")
        terminal.wait("One facet")
        terminal.keys("=one facet", "Enter")
        terminal.wait("extent one facet")
        terminal.keys("a")
        terminal.wait("What else do you know")
        terminal.keys("=no stray lines", "Enter")
        terminal.wait("Yes")
        terminal.keys("=yes", "Enter")
        terminal.wait("pre-polish clean yes")
        terminal.keys("2")
        terminal.wait("Mark", "Turned")
        terminal.keys("s")
        terminal.wait("The facet and its setting")
        terminal.keys("=which", "Enter")
        terminal.wait("Which part of the stone is it?")
        terminal.keys("=pavilion", "Enter")
        terminal.wait("Facet pavilion")
        terminal.keys("s")
        terminal.wait("The facet and its setting")
        terminal.keys("Enter")
        terminal.wait("side to side x culet end to girdle end")
        terminal.keys("=42", "Enter", "=30", "Enter", "=96", "Enter", "=9x6", "Enter")
        terminal.wait("9×6 mm")
        terminal.keys("m", *"bbdbbdbbd")
        terminal.wait("counter-clockwise", "DOWN")
        terminal.keys("1")
        first = expected.plan[0]
        # the same remedy stands first as on the command line
        terminal.wait("facet map: 3 of 9 dull", f" 1 {first.label[:24]}")
        terminal.keys("t")
        terminal.wait("How did it go?")
        terminal.keys("n")
        terminal.wait("Logged: no change")
        terminal.keys("u")
        terminal.wait("Undone")
        terminal.keys("t", "f")
        terminal.wait("Logged: fixed it")
        terminal.keys("4")
        terminal.wait("Spessartine", "1 case", "1 of 1")
        terminal.keys("v", "v", "v")
        terminal.wait("SPESSARTINE")
        terminal.keys("f")
        terminal.wait("New file")
        terminal.keys("C-u", f"={tmp_path / 'card.md'}", "Enter")
        terminal.wait("Written to")
        terminal.keys("C-q")
    assert (tmp_path / "card.md").read_text().startswith("# Spessartine")
    with Record.open(where, readonly=True) as record:
        last = record.last_case()
        assert last is not None
        assert last.result == "fixed"
        assert last.case.facet.trials[0].map == "BBD/BBD/BBD"


def test_by_mouse_alone_to_a_logged_case(where: Folders) -> None:
    (where.config / "screens.json").unlink()
    with Terminal(where.data) as terminal:
        terminal.wait("Welcome to the bench")
        terminal.click("Begin")
        terminal.wait("Say what is seen")
        terminal.click("not stated", row_of="Stone")
        terminal.wait("Which stone")
        terminal.click("Actinolite") if "Actinolite" in terminal.text() else terminal.click_at(10, 8)
        terminal.wait("Which stone", gone=True)
        terminal.click("nothing yet")
        terminal.wait("What do you see")
        terminal.click("Hairline scratches")
        terminal.wait("[x] Hairline")
        terminal.click("Choose and close")
        terminal.wait("What to try", "%")
        terminal.click("Try", row_of="Seen")
        terminal.wait("How did it go?")
        terminal.click("No change")
        terminal.wait("Logged: no change")
        terminal.click("Fixed")
        terminal.wait("Logged: fixed it")
        terminal.click("Record", row_of="Transfer")
        terminal.wait("What works")
        terminal.click("Recipe card")
        terminal.wait("Laps and compounds, best first")
        terminal.click("Back up")
        terminal.wait("Backed up to")
    with Record.open(where, readonly=True) as record:
        last = record.last_case()
        assert last is not None
        assert [outcome for _, outcome in last.case.tried] == ["no-change", "fixed"]


def test_the_plug_is_pulled_and_the_case_is_still_open(where: Folders) -> None:
    with Terminal(where.data) as terminal:
        terminal.wait("Say what is seen")
        terminal.keys("m")
        choose(terminal, "stone", "quartz", "Quartz")
        terminal.keys("Escape")  # the rest is left open
        terminal.wait("On the machine", gone=True)
        terminal.keys("s")
        terminal.wait("What do you see")
        terminal.keys("=hairline", "Enter")
        terminal.wait("What to try", "%")
        terminal.keys("n")
        terminal.wait("Logged: no change")
        os.kill(terminal.process, signal.SIGKILL)
    with Terminal(where.data) as terminal:
        screen = terminal.wait("still open", "hairline scratches", "Quartz", "%")
        assert "Welcome" not in screen
        terminal.keys("h")
        terminal.wait("Done in this case", "no change")


def test_sixty_columns_and_two_hundred(where: Folders) -> None:
    with Terminal(where.data, width=60) as terminal:
        terminal.wait("Say what is seen")
        terminal.keys("m")
        choose(terminal, "stone", "quartz", "Quartz")
        terminal.keys("Escape")  # the rest is left open
        terminal.wait("On the machine", gone=True)
        terminal.keys("s")
        terminal.wait("What do you see")
        terminal.keys("=hairline", "Enter")
        terminal.wait("%", "min", "Machine")
        on_disk(where)
    with Terminal(where.data, width=200, height=60) as terminal:
        terminal.wait("still open", "What may be wrong", "%")
