"""Our own list against Textual's: processor time to fill it and paint what is in sight, and to move the mark.

python tests/benchmarks/bench_rows.py
"""

from __future__ import annotations

import asyncio
import statistics
import time
from collections.abc import Callable

from textual.app import App, ComposeResult
from textual.content import Content
from textual.pilot import Pilot
from textual.widget import Widget
from textual.widgets import OptionList
from textual.widgets.option_list import Option

from lapwise.tui.widgets.rows import Rows, text_row

TURNS = 30


class Both(App[None]):
    CSS = "Rows {height: 20;} OptionList {height: 20; border: none; padding: 0;}"

    def compose(self) -> ComposeResult:
        yield Rows()
        yield OptionList(markup=False)


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


if __name__ == "__main__":
    asyncio.run(main())
