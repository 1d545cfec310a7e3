"""What a bench gives to a guild: sums of what its own finished cases taught, and in which words it is shown first."""

from __future__ import annotations

import secrets
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

from lapwise.engine.conclusions import OTHER
from lapwise.engine.errors import BadInput, Issue
from lapwise.engine.folders import Folders
from lapwise.engine.guild.model import Cell, Noise, Share
from lapwise.engine.guild.noise import BOUND, clipped, noised
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.record.counts import counts_of_record
from lapwise.engine.record.credit import ALL, UNIT
from lapwise.engine.record.store import Record
from lapwise.engine.record.work import EVERY, Progress
from lapwise.engine.wording import counted

LEAST_EPSILON, MOST_EPSILON = 0.01, 20.0
RARE = 3
"""A stone with fewer cases than this is pointed out before it is given: it may tell who gave it."""
_GIVEN = "given.txt"


@dataclass(slots=True)
class Gathered:
    """Sums over the cases to be given. ``cases``: their ids, which stay here. ``by_stone``: material to its cases.

    ``own``: rows of the person's own stones, laps, compounds, causes or remedies, which are left out.
    """

    cases: list[str] = field(default_factory=list)
    rows: dict[Cell, list[int]] = field(default_factory=dict)
    by_stone: dict[str, int] = field(default_factory=dict)
    own: int = 0
    before: int = 0
    """Finished cases that were given before and are left out."""


class Names:
    """Shipped ids only. An own stone counts as the nearest shipped one it belongs to."""

    def __init__(self, shipped: Knowledge, mine: Knowledge) -> None:
        self._shipped, self._mine = shipped, mine
        self._stones: dict[str, str | None] = {}

    def stone(self, material: str) -> str | None:
        """The shipped stone for a material, None if there is none."""
        if material not in self._stones:
            known = self._mine.materials.get(material)
            line = known.line if known else (material,)
            self._stones[material] = next((m for m in line if m in self._shipped.materials), None)
        return self._stones[material]

    def cell(self, kind: str, level: str, name: str, remedy: str, cause: str) -> Cell | None:
        """The cell of a share, None where it would name something of the person's own."""
        known: Mapping[str, object] | None = {
            "material": self._shipped.materials,
            "lap": self._shipped.laps,
            "compound": self._shipped.compounds,
        }.get(level)
        if level == "material":
            name = self.stone(name) or ""
        if known is not None and name not in known:
            return None
        if cause not in self._shipped.causes:
            return None
        if kind == "fix" and cause not in getattr(self._shipped.remedies.get(remedy), "fixes", ()):
            return None
        return kind, level, "" if known is None else name, remedy, cause


def cells(
    counts: Mapping[tuple[str, str, str, str, str], tuple[int, int]], names: Names
) -> tuple[dict[Cell, tuple[int, int]], int]:
    """What a case's counts add to a share: cell to (trials, hits); and how many rows were the person's own."""
    out: dict[Cell, tuple[int, int]] = {}
    own = 0
    for (kind, level, name, k3, k4), (a, b) in counts.items():
        if kind not in ("fix", "cause") or level not in ("all", "material", "lap", "compound"):
            continue
        if name == "" or (kind == "cause" and k3 == OTHER):
            continue  # nothing is learned of an unknown stone by itself, nor of what nobody listed
        remedy, cause = (k3, k4) if kind == "fix" else ("", k3)
        key = names.cell(kind, level, name if name != ALL else "", remedy, cause)
        if key is None:
            own += 1
            continue
        trials, hits = (a, b) if kind == "fix" else (b, a)
        before = out.get(key, (0, 0))
        out[key] = before[0] + trials, before[1] + hits
    return out, own


def gather(
    record: Record,
    names: Names,
    given: Collection[str] = (),
    *,
    without: Collection[str] = (),
    noise: bool = False,
    all_benches: bool = False,
    progress: Progress | None = None,
) -> Gathered:
    """The sums over all finished cases logged at this bench. ``given``: cases to leave out, by id.

    ``without``: stones to leave out. ``noise``: only what a noised share holds, each case cut to what it may add.
    ``all_benches``: cases of others too (a whole export that is being added up).
    """
    found = Gathered()
    left_out, before = frozenset(without), frozenset(given)
    with counts_of_record(record) as counts:
        for number, (case, taught, done) in enumerate(counts.finished(own=not all_benches), 1):
            if progress and number % EVERY == 0:
                progress(number, done)
            material = case.case.material or ""
            stone = names.stone(material) or ""
            if left_out & {stone, material}:
                continue
            if case.id in before:
                found.before += 1
                continue
            added, own = cells(taught, names)
            if not added:
                continue
            if noise:
                added = clipped({k: v for k, v in added.items() if k[1] == "all"}, BOUND - UNIT)
            found.own += own
            found.cases.append(case.id)
            found.by_stone[stone] = found.by_stone.get(stone, 0) + 1
            for key, (trials, hits) in added.items():
                kept = found.rows.setdefault(key, [0, 0])
                kept[0] += trials
                kept[1] += hits
    return found


def share_of(
    found: Gathered, shipped: Knowledge, version: str, epsilon: float | None = None, token: str | None = None
) -> Share:
    """The share of what was gathered; ``epsilon``: blurred. Raises :class:`BadInput` for an epsilon out of range."""
    rows = {key: (a, b) for key, (a, b) in sorted(found.rows.items()) if a or b}
    cases, noise = len(found.cases), None
    if epsilon is not None:
        if not LEAST_EPSILON <= epsilon <= MOST_EPSILON:
            what = f"epsilon from {LEAST_EPSILON:g} (much noise) up to {MOST_EPSILON:g} (hardly any) is allowed"
            raise BadInput(Issue(what, "--noise", f"{epsilon:g}"))
        table = sorted(_whole_table(shipped))  # every number there could be, or its absence would tell
        values = [x for key in table for x in rows.get(key, (0, 0))]
        *blurred, people = noised([*values, cases * UNIT], epsilon)
        rows = {key: (blurred[2 * i], blurred[2 * i + 1]) for i, key in enumerate(table)}
        cases, noise = max(0, round(people / UNIT)), Noise(epsilon, BOUND / UNIT / epsilon)
    return Share(token or secrets.token_hex(8), quarter(), shipped.digest, version, cases, rows, noise)


def _whole_table(shipped: Knowledge) -> Iterator[Cell]:
    for remedy in shipped.remedies.values():
        for cause in remedy.fixes:
            yield "fix", "all", "", remedy.id, cause
    for cause in shipped.causes:
        if cause != OTHER:
            yield "cause", "all", "", "", cause


def quarter(now: datetime | None = None) -> str:
    """``2026-Q3``."""
    when = now or datetime.now(UTC)
    return f"{when.year}-Q{(when.month + 2) // 3}"


def in_words(share: Share, found: Gathered, knowledge: Knowledge) -> list[str]:
    """What a share holds and what it does not, in plain sentences, for the person to read before it is written."""
    lines = [f"From {counted(len(found.cases), 'finished case')} of this bench, added up in {share.quarter}:"]
    fixes = sum(1 for key in share.rows if key[0] == "fix" and key[1] == "all")
    lines.append(
        f"  how often each remedy was tried against each likely cause, and how often it cured it: {fixes} pairs"
    )
    lines.append(f"  how often each cause was met: {len(share.rows)} numbers with the pairs")
    groups: dict[str, set[str]] = {}
    for _, level, name, _, _ in share.rows:
        if level != "all":
            groups.setdefault(level, set()).add(name)
    for level, names in sorted(groups.items()):
        lines.append(f"  the same by {level}: {', '.join(sorted(knowledge.label(n) for n in names))}")
    lines.append(f"  a number drawn for this share alone ({share.token}) and the digest of the shipped knowledge")
    if share.noise:
        lines.append(
            f"Noise is mixed in (discrete Laplace, epsilon {share.noise.epsilon:g} for each case, spread "
            f"{share.noise.scale:.3g} trials): nobody can tell whether any one case is in it. Not by stone or lap."
        )
    lines.append(
        "Not in it: notes, names, your own stones and laps, machine, facets, sizes, minutes, dates, single cases."
    )
    rare = sorted(knowledge.label(s) for s, n in found.by_stone.items() if s and n < RARE)
    if rare and not share.noise:
        lines.append(
            f"Fewer than {RARE} cases stand behind: {', '.join(rare)}. A rare stone may tell who you are: --without."
        )
    if found.own:
        lines.append(f"Left out: {found.own} numbers that name a stone, lap, compound, cause or remedy of your own.")
    if found.before:
        lines.append(f"Left out: {found.before} cases you have given before.")
    return lines


# --- which cases were given already ----------------------------------------------------------------------------


def given_path(where: Folders) -> Path:
    """The list of cases given so far. It stays at this bench."""
    return where.data / _GIVEN


def given(where: Folders) -> frozenset[str]:
    """Ids of the cases given so far. Raises :class:`BadInput` if the list cannot be read."""
    path = given_path(where)
    try:
        return frozenset(path.read_text(encoding="ascii", errors="replace").split())
    except FileNotFoundError:
        return frozenset()
    except OSError as error:
        raise BadInput(Issue(f"cannot be read: {error.strerror}", str(path))) from None


def note_given(where: Folders, cases: Collection[str]) -> None:
    """Note that these cases were given, so that no later share holds them again."""
    path = given_path(where)
    try:
        with path.open("a", encoding="ascii") as file:
            file.write("".join(f"{case}\n" for case in cases))
    except OSError as error:
        what = f"the share is written, but not that its cases were given ({error.strerror}): do not give it twice"
        raise BadInput(Issue(what, str(path))) from None
