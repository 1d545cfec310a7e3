"""Pictures of the screens on a small base of their own: sizes, colours and layouts, so that nothing shifts unseen.

They show the invented sample; the clock stands still. A picture that changed on purpose is renewed with
``pytest tests/tui/test_screens_pictures.py --snapshot-update`` and looked at.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from tests.tui.steps import keys, settle
from textual.pilot import Pilot

from lapwise.engine.folders import Folders, folders
from lapwise.engine.knowledge import loader
from lapwise.engine.knowledge.files import File
from lapwise.engine.record import own_laps, store
from lapwise.tui.app import LapwiseApp
from lapwise.tui.sample import sample_folders
from lapwise.tui.themes import DARK, LIGHT
from lapwise.tui.workspace import Workspace

SMALL = Path(__file__).with_name("small_base.yaml")
SIZES = {"60x24": (60, 24), "80x24": (80, 24), "120x40": (120, 40)}
COLOURS = ("dark", "light", "none")
AREAS = {"correction": "2", "transfer": "3", "record": "4", "laps": "5", "reference": "6", "machine": "7"}
Compare = Callable[..., bool]
Picture = Callable[..., LapwiseApp]


@pytest.fixture(scope="module")
def sample_folder() -> Path:
    """The sample's folder, made once; its days stand still."""
    with pytest.MonkeyPatch.context() as patch:
        for part in (store, own_laps):
            patch.setattr(part, "now_text", lambda: "2026-03-04T05:06:07.000Z")
        return sample_folders().data


@pytest.fixture
def picture(where: Folders, sample_folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Picture:
    """Makes the program with the invented sample on the small base."""
    small = loader.build((File("small_base.yaml", SMALL, False, ""),), ())
    monkeypatch.setattr(loader, "load", lambda folders=None: small)
    shutil.copytree(sample_folder, tmp_path / "sample")

    def make(colours: str = "dark", *, touch: bool = False, large: bool = False) -> LapwiseApp:
        if colours == "none":
            monkeypatch.setenv("NO_COLOR", "1")
        theme = {"dark": DARK, "light": LIGHT, "none": None}[colours]
        workspace = Workspace(folders(tmp_path / "sample"), sample=True)
        app = LapwiseApp(where, workspace=workspace, clock=lambda: 1000.0, theme=theme, touch=touch)
        app.large = large
        return app

    return make


def pressing(*pressed: str) -> Callable[[Pilot[None]], object]:
    """What to press before the picture is taken."""

    async def before(pilot: Pilot[None]) -> None:
        await settle(pilot)
        await keys(pilot, *pressed)
        for _ in range(2):
            await pilot.pause(0.06)
            await settle(pilot)

    return before


@pytest.mark.parametrize("colours", COLOURS)
@pytest.mark.parametrize("size", SIZES)
def test_case(size: str, colours: str, picture: Picture, snap_compare: Compare) -> None:
    assert snap_compare(picture(colours), terminal_size=SIZES[size], run_before=pressing())


@pytest.mark.parametrize(("size", "colours"), [("60x24", "light"), ("80x24", "dark"), ("120x40", "none")])
@pytest.mark.parametrize("area", AREAS)
def test_area(area: str, size: str, colours: str, picture: Picture, snap_compare: Compare) -> None:
    assert snap_compare(picture(colours), terminal_size=SIZES[size], run_before=pressing(AREAS[area]))


@pytest.mark.parametrize(
    ("name", "pressed"),
    [
        ("why", ("enter",)),
        ("trying", ("down", "t")),
        ("seen", ("s",)),
        ("causes", ("y",)),
        ("help", ("f1",)),
        ("fixed", ("f",)),
        ("ink-map", ("2", "i", "d", "B")),
        ("card", ("4", "v", "v", "v")),
        ("ink-test", ("7", "t", "enter", "=96", "enter")),
    ],
)
def test_on_the_way(name: str, pressed: tuple[str, ...], picture: Picture, snap_compare: Compare) -> None:
    assert snap_compare(picture(), terminal_size=(80, 24), run_before=pressing(*pressed))


def test_touch(picture: Picture, snap_compare: Compare) -> None:
    assert snap_compare(picture(touch=True), terminal_size=(80, 24), run_before=pressing())


def test_large_type(picture: Picture, snap_compare: Compare) -> None:
    assert snap_compare(picture(large=True), terminal_size=(80, 24), run_before=pressing())


def test_two_hundred_columns(picture: Picture, snap_compare: Compare) -> None:
    assert snap_compare(picture(), terminal_size=(200, 50), run_before=pressing())
