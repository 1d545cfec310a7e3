"""Takes the pictures of the README anew from the program itself, on the invented sample, and writes its drawings.

Run: python -m tests.tui.take_pictures (from the project's folder). Look at what changed before it is committed.
"""

from __future__ import annotations

import asyncio
import re
import tempfile
from pathlib import Path

from tests.tui.steps import keys, settle

from lapwise.engine.folders import folders
from lapwise.engine.knowledge.loader import load
from lapwise.tui.app import LapwiseApp
from lapwise.tui.keymap import Choices, write_choices
from lapwise.tui.pictures.catalog import CELLS, svg, text
from lapwise.tui.pictures.symptoms import SYMPTOMS
from lapwise.tui.sample import sample_folders
from lapwise.tui.themes import DARK
from lapwise.tui.workspace import Workspace

HELP = Path(__file__).parents[2] / "tui" / "help"
SIZE = (92, 27)
DRAWN = ("fine-scratches", "scratches-cutting-direction", "comet-tails")
"""Drawings that stand in the README."""
KEPT = Path(__file__).parents[1] / "unit" / "drawings.txt"
"""The drawings of the symptoms as they were looked at last."""
PICTURES = {"case": (), "correction": ("2",)}


def plain_fonts(svg: str) -> str:
    """The picture with fonts that a machine has, and nothing that a reader's browser would fetch from elsewhere."""
    svg = re.sub(r"\s*@font-face \{.*?\}", "", svg, flags=re.DOTALL)
    return re.sub(r"font-family: Fira Code[^;]*;", "font-family: DejaVu Sans Mono, Menlo, Consolas, monospace;", svg)


async def take(name: str, pressed: tuple[str, ...]) -> Path:
    """One picture; returns where it is."""
    where = folders(tempfile.mkdtemp(prefix="lapwise-pictures-"))
    write_choices(where.config, Choices(welcomed=True))
    workspace = Workspace(sample_folders(), sample=True)
    app = LapwiseApp(where, workspace=workspace, clock=lambda: 1000.0, theme=DARK)
    async with app.run_test(size=SIZE) as pilot:
        await settle(pilot)
        await keys(pilot, *pressed)
        for _ in range(3):
            await pilot.pause(0.1)
            await settle(pilot)
        file = HELP / f"{name}.svg"
        file.write_text(plain_fonts(app.export_screenshot(simplify=True)), encoding="utf-8")
    return file


def main() -> None:
    for name, pressed in PICTURES.items():
        print(asyncio.run(take(name, pressed)))
    knowledge = load().knowledge
    for name in DRAWN:
        file = HELP / "pictures" / f"{name}.svg"
        file.write_text(svg(name, knowledge.label(name)), encoding="utf-8")
        print(file)
    drawn = [f"{name}\n" + "\n".join(text(name, *CELLS)) for name in SYMPTOMS]
    KEPT.write_text("\n\n".join(drawn) + "\n", encoding="utf-8")
    print(KEPT)


if __name__ == "__main__":
    main()
