"""The settings of a facet as the correction screen works on them: each with its ink map and its polish map."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from lapwise.engine.case import Trial
from lapwise.engine.errors import BadInput
from lapwise.engine.numerals import read_number
from lapwise.tui.widgets.facet_map import Grid

BLANK: Grid = ("???", "???", "???")
LEAST, MOST = 3, 7


@dataclass(frozen=True, slots=True)
class Setting:
    """``turn`` and ``angle``: totals from the first setting, degrees, clockwise and raise positive."""

    turn: float = 0.0
    angle: float = 0.0
    polish: Grid = BLANK
    ink: Grid | None = None
    fresh: bool = False

    @property
    def said(self) -> bool:
        """True once any cell of it is marked."""
        return _marked(self.polish) or (self.ink is not None and _marked(self.ink))

    def in_cells(self, step: int) -> Setting:
        """The same in ``step`` more rows and columns, from 3 to 7 of each."""
        rows, columns = (max(LEAST, min(MOST, n + step)) for n in (len(self.polish), len(self.polish[0])))
        ink = None if self.ink is None else resized(self.ink, rows, columns)
        return replace(self, polish=resized(self.polish, rows, columns), ink=ink)


def _marked(grid: Grid) -> bool:
    return any(c in "BDRN" for row in grid for c in row)


def turned_dull(settings: Sequence[Setting]) -> bool:
    """True if the newest polish map, not said to be fresh, is dull where the one before was bright."""
    if len(settings) < 2 or settings[-1].fresh:
        return False
    before, now = settings[-2].polish, settings[-1].polish
    alike = resized(before, len(now), len(now[0]))
    return any(
        was == "B" and one == "D" for rows in zip(alike, now, strict=True) for was, one in zip(*rows, strict=True)
    )


def map_words(grid: Grid, *, ink: bool = False) -> str:
    """``3 of 9 dull``, ``bright all over``; of an ink map what still has its ink."""
    cells = [c for row in grid for c in row if c != "."]
    left, told = sum(c in "DN" for c in cells), sum(c in "BDRN" for c in cells)
    dull, bright = ("with ink left", "rubbed all over") if ink else ("dull", "bright all over")
    if not told:
        return "not marked yet"
    if not left and told == len(cells):
        return bright
    open_ = f", {len(cells) - told} not known" if told < len(cells) else ""
    return f"{left} of {len(cells)} {dull}{open_}"


def grid_of(text: str) -> Grid:
    """The rows of a map's text, in capitals."""
    return tuple(text.upper().replace(" ", "").split("/"))


def settings_of(trials: Sequence[Trial]) -> list[Setting]:
    """Trials put together setting by setting; at least one setting comes back."""
    out: list[Setting] = []
    for trial in trials:
        grid = grid_of(trial.map)
        if trial.ink:
            blank = tuple("?" * len(row) for row in grid)
            out.append(Setting(trial.turn, trial.angle, polish=blank, ink=grid))
            continue
        last = out[-1] if out else None
        same = last is not None and (last.turn, last.angle) == (trial.turn, trial.angle)
        if same and last is not None and last.ink is not None and not _marked(last.polish):
            out[-1] = replace(last, polish=grid, fresh=trial.fresh)
        else:
            out.append(Setting(trial.turn, trial.angle, grid, fresh=trial.fresh))
    return out or [Setting()]


def trials_of(settings: Sequence[Setting]) -> tuple[Trial, ...]:
    """The settings as trials; a map without a mark is left out."""
    out: list[Trial] = []
    for setting in settings:
        if setting.ink is not None and _marked(setting.ink):
            out.append(Trial(setting.turn, setting.angle, "/".join(setting.ink), ink=True))
        if _marked(setting.polish):
            out.append(Trial(setting.turn, setting.angle, "/".join(setting.polish), fresh=setting.fresh))
    return tuple(out)


def resized(grid: Grid, rows: int, columns: int) -> Grid:
    """The grid with another number of cells; each new cell takes the mark of the old one at its place."""
    height, width = len(grid), len(grid[0])
    return tuple(
        "".join(grid[int((r + 0.5) / rows * height)][int((c + 0.5) / columns * width)] for c in range(columns))
        for r in range(rows)
    )


def blank_like(grid: Grid) -> Grid:
    """A grid of the same shape with nothing known; where there is no stone stays so."""
    return tuple("".join("." if c == "." else "?" for c in row) for row in grid)


def degrees_typed(name: str, text: str) -> float:
    """Degrees typed, 0 where nothing is. Raises :class:`BadInput` where it is no number from -90 to 90."""
    value = read_number(text) if text else 0.0
    if value is None or not -90 <= value <= 90:
        raise BadInput(f"{name}: degrees from -90 to 90 are required")
    return value
