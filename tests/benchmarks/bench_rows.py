"""Our own list against Textual's: processor time to fill it and paint what is in sight, and to move the mark. Our own
row of things to tap against Textual's buttons: processor time until eight others are shown.

python tests/benchmarks/bench_rows.py
"""

from __future__ import annotations

import asyncio
import statistics
import time
from collections.abc import Callable

from textual.app import App, ComposeResult
from textual.containers import Horizontal
from textual.content import Content
from textual.pilot import Pilot
from textual.widget import Widget
from textual.widgets import Button, OptionList
from textual.widgets.option_list import Option

from lapwise.tui.widgets.bar import Bar, Item
from lapwise.tui.widgets.rows import Rows, text_row

TURNS = 30


class Both(App[None]):
    CSS = "Rows {height: 20;} OptionList {height: 20; border: none; padding: 0;} #buttons {height: 1;}"

    def compose(self) -> ComposeResult:
        yield Rows()
        yield OptionList(markup=False)
        yield Bar()
        yield Horizontal(id="buttons")


def paint(widget: Widget) -> None:
    for y in range(widget.size.height):
        widget.render_line(y)


async def timed(pilot: Pilot[None], does: Callable[[], None], widget: Widget) -> float:
    taken = []
    for _ in range(TURNS):
        start = time.process_time()
        does()
        paint(widget)
        taken.append(time.process_time() - start)
        await pilot.pause()
    return 1000 * statistics.median(taken)


async def timed_bars(pilot: Pilot[None]) -> tuple[float, float]:
    """(ours, Textual's) ms from eight things to tap to eight others."""
    bar, buttons = pilot.app.query_one(Bar), pilot.app.query_one("#buttons")
    sets = [[f"{word} {n}" for n in range(8)] for word in ("Steps", "Mark", "Undo")]
    taken: tuple[list[float], list[float]] = ([], [])
    for turn in range(TURNS):
        words = sets[turn % len(sets)]
        start = time.process_time()
        bar.show([Item(word, "x", word) for word in words])
        await pilot.pause()
        taken[0].append(time.process_time() - start)
        start = time.process_time()
        with pilot.app.batch_update():
            await buttons.remove_children()
            await buttons.mount(*(Button(f"x {word}", compact=True) for word in words))
        await pilot.pause()
        taken[1].append(time.process_time() - start)
    return 1000 * statistics.median(taken[0]), 1000 * statistics.median(taken[1])


async def main() -> None:
    app = Both()
    async with app.run_test(size=(80, 50)) as pilot:
        rows, options = app.query_one(Rows), app.query_one(OptionList)
        for count in (14, 200):
            texts = [f"{n:>3} a remedy of the plan, with its bar  46 %  likely  6 min" for n in range(count)]

            def fill_rows(texts: list[str] = texts) -> None:
                rows.show([text_row(str(n), text) for n, text in enumerate(texts)])

            def fill_options(texts: list[str] = texts) -> None:
                options.clear_options()
                options.add_options([Option(Content(text), id=str(n)) for n, text in enumerate(texts)])
                options.highlighted = 0

            ours, theirs = await timed(pilot, fill_rows, rows), await timed(pilot, fill_options, options)
            print(f"{count} rows filled and painted: ours {ours:.1f} ms, Textual's {theirs:.1f} ms")
            ours = await timed(pilot, lambda: rows.action_move(1), rows)
            theirs = await timed(pilot, options.action_cursor_down, options)
            print(f"{count} rows, the mark moved: ours {ours:.1f} ms, Textual's {theirs:.1f} ms")
        ours, theirs = await timed_bars(pilot)
        print(f"eight others to tap: ours {ours:.1f} ms, Textual's {theirs:.1f} ms")


if __name__ == "__main__":
    asyncio.run(main())
