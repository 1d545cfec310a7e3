"""The map of a facet: what one setting touched, cell by cell."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from lapwise.engine.errors import BadInput, Issue

Mark = Literal["touched", "missed", "unknown", "absent"]

POLISH_LETTERS: dict[str, Mark] = {"B": "touched", "D": "missed", "?": "unknown", ".": "absent"}
INK_LETTERS: dict[str, Mark] = {"R": "touched", "N": "missed", "?": "unknown", ".": "absent"}
SMALLEST = 3
LARGEST = 24


@dataclass(frozen=True, slots=True)
class FacetMap:
    """Rows from the tip end to the dop end, each left to right as one faces the facet.

    A cell is *touched* (bright, or ink rubbed off), *missed* (dull, or ink still there), unknown, or no stone.
    """

    rows: tuple[tuple[Mark, ...], ...]
    ink: bool = False

    @property
    def height(self) -> int:
        """Rows."""
        return len(self.rows)

    @property
    def width(self) -> int:
        """Cells in a row."""
        return len(self.rows[0])

    @property
    def text(self) -> str:
        """The map as it is typed, in capitals."""
        letters = {mark: letter for letter, mark in (INK_LETTERS if self.ink else POLISH_LETTERS).items()}
        return "/".join("".join(letters[mark] for mark in row) for row in self.rows)

    def count(self, mark: Mark) -> int:
        """How many cells bear this mark."""
        return sum(row.count(mark) for row in self.rows)

    @property
    def known(self) -> int:
        """Cells that are touched or missed."""
        return self.count("touched") + self.count("missed")

    @property
    def stone(self) -> int:
        """Cells with stone."""
        return self.width * self.height - self.count("absent")

    @property
    def told(self) -> tuple[bool, bool]:
        """(across, along): whether something is marked at both ends of the stone, so that a slope can be told."""

        def both(lines: Sequence[Sequence[Mark]]) -> bool:
            stone = [line for line in lines if any(mark != "absent" for mark in line)]
            return len(stone) > 1 and all({"touched", "missed"} & set(line) for line in (stone[0], stone[-1]))

        return both(tuple(zip(*self.rows, strict=True))), both(self.rows)


def read_map(text: str, ink: bool = False) -> FacetMap:
    """The map typed as rows joined by ``/``. Raises :class:`BadInput` that says which row and letter is wrong."""
    letters = INK_LETTERS if ink else POLISH_LETTERS
    allowed = (
        ("R rubbed", "N not rubbed", "? not sure", ". no stone")
        if ink
        else ("B bright", "D dull", "? not sure", ". no stone")
    )
    lines = [line.strip().replace(" ", "").upper() for line in text.strip().strip("/").split("/")]
    problems = []
    for number, line in enumerate(lines, 1):
        wrong = sorted({c for c in line if c not in letters})
        if wrong:
            what = f"row {number} of the map holds {', '.join(wrong)}"
            if all(c in (POLISH_LETTERS if ink else INK_LETTERS) for c in wrong):
                what += " - letters of " + ("a polish map" if ink else "an ink map (use --ink for it)")
            problems.append(Issue(what, "map", text, allowed))
    if len({len(line) for line in lines}) > 1:
        sizes = ", ".join(str(len(line)) for line in lines)
        problems.append(
            Issue(f"the rows of the map must be equally long, they hold {sizes} marks", "map", text, ("BBD/BBD/BBD",))
        )
    elif min(len(lines), len(lines[0])) < SMALLEST:
        what = f"the map is {len(lines[0])} wide and {len(lines)} high; at least 3 x 3 is needed"
        problems.append(Issue(what, "map", text, ("three rows of three marks: BBD/BBD/BBD",)))
    elif max(len(lines), len(lines[0])) > LARGEST:
        what = f"the map is {len(lines[0])} wide and {len(lines)} high; at most {LARGEST} x {LARGEST} is read"
        problems.append(Issue(what, "map", text))
    elif not problems and not any(c in line for line in lines for c in letters if c != "."):
        problems.append(Issue("the map holds no stone at all", "map", text, allowed))
    if problems:
        raise BadInput(problems)
    return FacetMap(tuple(tuple(letters[c] for c in line) for line in lines), ink)
