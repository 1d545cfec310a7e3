"""A bench for the screens' tests: the real engine in a folder of its own, without the person's colours or keys."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Hashable
from contextlib import suppress
from pathlib import Path

import pytest
from tests.tui.steps import settle
from tests.unit.shipped import warm
from textual._context import active_app
from textual.css.model import RuleSet
from textual.css.stylesheet import Stylesheet
from textual.pilot import Pilot

from lapwise.engine.folders import Folders, folders
from lapwise.tui.app import LapwiseApp
from lapwise.tui.keymap import Choices, write_choices
from lapwise.tui.workspace import Workspace

_parse = Stylesheet._parse_rules
_parsed: dict[Hashable, list[RuleSet]] = {}


def _parsed_once(self: Stylesheet, *args: Hashable, **kwargs: Hashable) -> list[RuleSet]:
    key = (frozenset(self._variables.items()), args, tuple(kwargs.items()))
    if key not in _parsed:
        _parsed[key] = _parse(self, *args, **kwargs)  # type: ignore[arg-type]
    return _parsed[key]


Stylesheet._parse_rules = _parsed_once  # type: ignore[method-assign, assignment]
"""A style sheet is parsed once for all programs of a process that give it the same colours."""


@pytest.fixture(autouse=True)
def plain_surroundings(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """No colours, folders or sizes of the person who runs the tests."""
    for name in ("NO_COLOR", "LAPWISE_DATA", "COLUMNS", "LINES", "TEXTUAL_DRIVER"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("LAPWISE_DATA", str(tmp_path / "elsewhere"))
    monkeypatch.chdir(tmp_path)


@pytest.fixture(autouse=True)
def rest_is_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    """Textual's pilot waits until the processor idles, at most a second, on a busy machine for each key as long; ours
    sees when all is done, and waits no longer than that either."""

    async def rest(*_: float) -> None:
        with suppress(TimeoutError):
            await asyncio.wait_for(settle(Pilot(active_app.get())), 1.0)

    for module in ("app", "pilot"):
        monkeypatch.setattr(f"textual.{module}.wait_for_idle", rest)


@pytest.fixture
def where(tmp_path: Path) -> Folders:
    """A data folder of its own, greeted already."""
    found = folders(warm(tmp_path / "bench"))
    write_choices(found.config, Choices(welcomed=True))
    return found


class Clock:
    """A clock that stands still until it is set on."""

    def __init__(self) -> None:
        self.seconds = 1000.0

    def __call__(self) -> float:
        return self.seconds


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def make_app(where: Folders, clock: Clock) -> Callable[..., LapwiseApp]:
    """Makes the program on the real engine."""

    def make(*, touch: bool = False, theme: str | None = None) -> LapwiseApp:
        return LapwiseApp(where, workspace=Workspace(where), clock=clock, touch=touch, theme=theme)

    return make
