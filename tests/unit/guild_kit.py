"""Invented benches for the tests of a guild: shares drawn from made-up truths over the shipped ids."""

from __future__ import annotations

import random
from collections.abc import Iterable
from functools import cache
from pathlib import Path

from tests.unit.shipped import knowledge as shipped

from lapwise.engine.guild.model import Cell, Share
from lapwise.engine.guild.sharefile import write
from lapwise.engine.record.credit import UNIT


@cache
def pairs() -> tuple[tuple[str, str], ...]:
    """Remedies with the causes they cure."""
    return tuple((r.id, c) for r in shipped().remedies.values() for c in r.fixes)


def share(
    seed: int, *, chance: float = 0.5, trials: int = 10, upside_down: bool = False, stone: str = "topaz"
) -> Share:
    """A bench that tried every pair ``trials`` times; a pair cures with about ``chance``, half of them with less.

    ``upside_down``: it says of every cure that it failed, and of every failure that it cured.
    """
    dice = random.Random(seed)
    rows: dict[Cell, tuple[int, int]] = {}
    for i, (remedy, cause) in enumerate(pairs()):
        p = chance if i % 2 else chance / 4
        hits = sum(dice.random() < p for _ in range(trials))
        hits = trials - hits if upside_down else hits
        for level, name in (("all", ""), ("material", stone), ("lap", "tin-lap")):
            rows["fix", level, name, remedy, cause] = trials * UNIT, hits * UNIT
    for cause in shipped().causes:
        if cause != "other":
            rows["cause", "all", "", "", cause] = 5 * UNIT, dice.randint(3, 7) * UNIT
    return Share(f"{seed:016x}", "2026-Q1", shipped().digest, "1", trials * 10, rows)


def put(folder: Path, shares: Iterable[Share], ending: str = ".jsonl") -> Path:
    """Write shares to files ``bench-0001.jsonl`` and so on."""
    folder.mkdir(parents=True, exist_ok=True)
    for number, given in enumerate(shares, 1):
        path = folder / f"bench-{number:04d}{ending}"
        with path.open("xb") as file:
            write(given, file, path.name)
    return folder
