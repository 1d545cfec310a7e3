"""What the tests of materials, laps, compounds and cautions work with: those files alone, without the rules."""

from __future__ import annotations

from functools import cache

from lapwise.engine.knowledge.files import shipped_files
from lapwise.engine.knowledge.loader import build
from lapwise.engine.knowledge.model import Knowledge

PARTS = (
    "knowledge/materials/",
    "knowledge/laps",
    "knowledge/compounds",
    "knowledge/cautions",
    "knowledge/traits",
    "knowledge/sources",
    "knowledge/scales",
)


@cache
def shelf() -> Knowledge:
    """Materials, laps, compounds, cautions, traits and sources as shipped."""
    return build([f for f in shipped_files() if f.name.startswith(PARTS)], ()).knowledge
