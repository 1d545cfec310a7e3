"""How many settings until the whole facet is bright, on simulated facets; beside a hand that moves one division.

    python tests/benchmarks/bench_contact.py [facets] [first-nudge facets]

The world (judgement, not published): a rigid lap and a flat facet of 1 to 15 mm, reading 5 to 90 degrees, off by up to
0.5 degrees in turn and in angle, damage D of 0.5 to 5 um known only as a range eight times as wide that holds it, 1.5
to 3 D removed at the touching point of each trial, every map fresh. A mark tells of the outermost point of its cell, so
the whole facet is bright when all marks are. Nothing here is asserted by the clock.

Seen on two shared cores, 2026-11, seed 1 (share whole bright at setting 4, 5, 6, 7 or sooner):

    3 x 3 map, 300 facets              37.0  64.3  84.7  95.0 %
    3 x 3 with ink map, 300            53.0  78.7  94.3  99.0 %
    5 x 5 map, 300                     48.7  74.3  94.3  98.3 %
    5 x 5 with ink map, 120            65.8  84.2  98.3 100.0 %
    hand, 0.1 degrees a time, 120      10.8  17.5  17.5  18.3 %
    hand, 0.05 degrees a time, 120      2.5   7.5  10.8  19.2 %

Five other loss functions for the next setting changed the 3 x 3 figures by no more than their sampling error; the mean
and the median of the posterior looked somewhat slower (51 to 61 % at the fifth, 100 facets). Nine marks tell only so
much: ink or more marks are what helps.
First nudge on 10,000 facets: 2,861 clear axes, none against the slope, none zero.
"""

from __future__ import annotations

import math
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from lapwise.engine.case import FacetSetting, Trial
from lapwise.engine.contact import correct

UM = 1000.0


@dataclass(frozen=True)
class World:
    """One simulated facet. ``turn`` and ``angle`` would make it level; ``removal`` a value for each trial, in D."""

    size: tuple[float, float]
    reading: float
    turn: float
    angle: float
    damage: float
    known: tuple[float, float]
    removal: tuple[float, ...]

    def slopes(self, turn: float, angle: float) -> tuple[float, float]:
        """Exact slopes (rise per length, across and along) of the facet at a setting.

        The quill lies along (sin r, 0, -cos r); the facet's normal is turned about it by what is still missing.
        """
        d, e = math.radians(self.turn - turn), math.radians(self.angle - angle)
        r = math.radians(self.reading)
        k = np.array([math.sin(r), 0.0, -math.cos(r)])
        n = np.array([-math.sin(e), 0.0, -math.cos(e)])
        n = n * math.cos(d) - np.cross(k, n) * math.sin(d) + k * (k @ n) * (1 - math.cos(d))
        return n[1] / n[2], n[0] / n[2]

    def gaps(self, turn: float, angle: float, n: int) -> np.ndarray:
        """(n, n) how far the outermost points of the cells stand off the lap, um; tip row first, left to right."""
        sx, sy = self.slopes(turn, angle)
        u = np.linspace(-self.size[0] / 2, self.size[0] / 2, n)
        v = np.linspace(self.size[1] / 2, -self.size[1] / 2, n)
        reach = sx * u[None, :] + sy * v[:, None]
        return UM * (abs(sx) * self.size[0] / 2 + abs(sy) * self.size[1] / 2 - reach)


def worlds(count: int, seed: int = 1, settings: int = 40) -> Iterator[World]:
    """``count`` facets, always the same for one seed."""
    rng = np.random.default_rng(seed)
    for _ in range(count):
        damage = math.exp(rng.uniform(math.log(0.5), math.log(5.0)))
        low = damage / math.exp(rng.uniform(0.0, math.log(8.0)))
        yield World(
            size=(rng.uniform(1, 15), rng.uniform(1, 15)),
            reading=rng.uniform(5, 90),
            turn=rng.uniform(-0.5, 0.5),
            angle=rng.uniform(-0.5, 0.5),
            damage=damage,
            known=(low, 8 * low),
            removal=tuple(rng.uniform(1.5, 3.0, settings)),
        )


def text(touched: np.ndarray, letters: str) -> str:
    """A map as it is typed."""
    return "/".join("".join(letters[0] if t else letters[1] for t in row) for row in touched)


def trials_at(world: World, turn: float, angle: float, number: int, n: int, ink: bool) -> tuple[list[Trial], bool]:
    """The maps of one setting, and whether all of the facet is bright."""
    gap = world.gaps(turn, angle, n)
    removal = world.removal[number] * world.damage
    bright = removal - gap >= world.damage
    out = [Trial(turn, angle, text(gap <= removal, "RN"), ink=True, fresh=True)] if ink else []
    return [*out, Trial(turn, angle, text(bright, "BD"), fresh=True)], bool(bright.all())


def settings_needed(world: World, n: int, ink: bool, most: int = 12) -> int:
    """Settings until the whole facet is bright, following the advice; ``most`` + 1 if it never was."""
    trials: list[Trial] = []
    turn = angle = 0.0
    for number in range(most):
        new, all_bright = trials_at(world, turn, angle, number, n, ink)
        if all_bright:
            return number + 1
        trials += new
        facet = FacetSetting(part="pavilion", angle=world.reading, size_mm=world.size, trials=tuple(trials))
        answer = correct(facet, damage_um=world.known)
        turn, angle = answer.next_turn, answer.next_angle
    return most + 1


def by_hand(world: World, division: float, most: int = 40) -> int:
    """The same for a hand that moves one division towards the dull side on each axis that shows one."""
    turn = angle = 0.0
    for number in range(most):
        gap = world.gaps(turn, angle, 3)
        bright = world.removal[number] * world.damage - gap >= world.damage
        if bright.all():
            return number + 1
        across = int((~bright[:, 0]).sum()) - int((~bright[:, -1]).sum())
        along = int((~bright[-1]).sum()) - int((~bright[0]).sum())
        turn += division * np.sign(across)
        angle += division * np.sign(along)
    return most + 1


def first_nudges(count: int, seed: int = 2) -> tuple[int, int, int]:
    """(clear axes, against the slope, zero) over the first nudges of ``count`` facets."""
    clear = against = zero = 0
    for world in worlds(count, seed):
        trials, _ = trials_at(world, 0.0, 0.0, 0, 3, ink=False)
        rows = trials[0].map.split("/")
        across = sum(r[0] == "D" for r in rows) - sum(r[-1] == "D" for r in rows)
        along = rows[-1].count("D") - rows[0].count("D")
        facet = FacetSetting(part="pavilion", angle=world.reading, size_mm=world.size, trials=tuple(trials))
        answer = correct(facet, damage_um=world.known)
        for marks, moved, needed in (
            (across, answer.next_turn, world.turn),
            (along, answer.next_angle, world.angle),
        ):
            if abs(marks) >= 2:
                clear += 1
                zero += moved == 0
                against += moved * marks < 0 or moved * needed < 0
    return clear, against, zero


def shares(counts: list[int], upto: int = 8) -> str:
    """Share of facets bright at each setting or sooner."""
    return "  ".join(f"{np.mean([c <= k for c in counts]):5.1%}" for k in range(1, upto + 1))


def main(facets: int = 300, first: int = 10_000) -> None:
    """Print the figures."""
    print(f"{facets} facets; share whole bright at setting 1 .. 8 or sooner")
    rows: list[tuple[str, Callable[[World], int]]] = [
        ("3 x 3 map", lambda w: settings_needed(w, 3, ink=False)),
        ("3 x 3 with ink map", lambda w: settings_needed(w, 3, ink=True)),
        ("5 x 5 map", lambda w: settings_needed(w, 5, ink=False)),
        ("5 x 5 with ink map", lambda w: settings_needed(w, 5, ink=True)),
        ("hand, 0.2 degrees", lambda w: by_hand(w, 0.2)),
        ("hand, 0.1 degrees", lambda w: by_hand(w, 0.1)),
        ("hand, 0.05 degrees", lambda w: by_hand(w, 0.05)),
    ]
    for name, count in rows:
        start = time.perf_counter()
        counts = [count(w) for w in worlds(facets)]
        took = 1000 * (time.perf_counter() - start) / sum(min(c, 40) for c in counts)
        middle = float(np.median(counts))
        print(f"{name:<20} {shares(counts)}   median {middle:g}   {took:.1f} ms a setting", flush=True)
    start = time.perf_counter()
    clear, against, zero = first_nudges(first)
    print(f"first nudge on {first} facets: {clear} clear axes, {against} against the slope, {zero} zero", end="; ")
    print(f"{1000 * (time.perf_counter() - start) / first:.1f} ms each")


if __name__ == "__main__":
    main(*(int(a) for a in sys.argv[1:]))
