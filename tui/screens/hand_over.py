"""Files to and from the person: by a path at this computer, through the browser for a visitor of `lapwise serve`.

A visitor gets no paths: what a path names belongs to whoever started the program, not to the visitor.
"""

from __future__ import annotations

import io
import os
import tempfile
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import BinaryIO, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.content import Content
from textual.events import Paste
from textual.widgets import Static

from lapwise.engine.newfile import new_file
from lapwise.engine.record.work import Progress
from lapwise.tui.present.words import safe
from lapwise.tui.screens.ask import Blank
from lapwise.tui.screens.asking import fill_in
from lapwise.tui.screens.base import AreaScreen
from lapwise.tui.screens.dialog import Dialog
from lapwise.tui.screens.long_work import long_work
from lapwise.tui.widgets.bar import Bar, Item
from lapwise.tui.work import start

VISIT = "LAPWISE_VISIT"
"""What the browser's page calls this visit; set by `lapwise serve`."""
Opener = Callable[[], BinaryIO]
"""Opens the file that was chosen; raises ``OSError``."""
Make = Callable[[Path, Progress], str]
"""Makes a new file of that name, whole or not at all, and answers with what was written, such as ``"4 rows"``."""


def give(screen: AreaScreen, title: str, name: str, text: str, done: str) -> None:
    """Hand ``text`` over as a file: downloaded in a browser, else written to a new file where the person says.

    ``name``: offered, a plain file name. ``done``: what was written, such as ``"4 rows"``, for the line that says so.
    """
    if screen.app.is_web:
        # newline: the text is bytes already laid out, no line end may change on the way
        screen.app.deliver_text(io.StringIO(text, newline=""), save_filename=name, encoding="utf-8")
        screen.say(f"{name} goes to your browser: {done}.")
        return

    async def make(path: Path) -> str:
        with new_file(path) as file:
            file.write(text.encode())
        return done

    _ask_where(screen, title, name, make)


def give_made(screen: AreaScreen, title: str, name: str, make: Make) -> None:
    """As :func:`give`, for what takes long to make; it can be stopped, and then there is no file."""

    def made(path: Path) -> Awaitable[str]:
        return long_work(screen, title, lambda tell: screen.workspace.do(make, path, tell))

    async def send() -> None:
        with tempfile.TemporaryDirectory(prefix="lapwise-", ignore_cleanup_errors=True) as folder:
            path = Path(folder) / name
            done = await made(path)
            # the open file outlives its name
            screen.app.deliver_binary(path.open("rb"), save_filename=name)
        screen.say(f"{name} goes to your browser: {done}.")

    if screen.app.is_web:
        start(screen, send, group="files")
    else:
        _ask_where(screen, title, name, made)


def _ask_where(screen: AreaScreen, title: str, name: str, make: Callable[[Path], Awaitable[str]]) -> None:
    """Ask for the name of a new file and make it; ``make`` answers with what was written."""

    async def write(path: Path) -> None:
        try:
            done = await make(path)
        except FileExistsError:
            screen.warn(f"{path} is there already; nothing was written.")
        except OSError as error:
            screen.warn(f"{path}: {error.strerror or error}")
        else:
            screen.say(f"Written to {path.resolve()}: {done}.")

    blank = Blank("file", "New file", name, "its name or path")
    about = f"A name alone goes into the folder {Path.cwd()}."
    _type_file(screen, title, blank, about, lambda path: start(screen, lambda: write(path), group="files"))


def ask_file(screen: AreaScreen, title: str, about: str, then: Callable[[Path], None]) -> None:
    """Ask for the name of a file there is."""
    about = f"{about} A name alone is looked for in {Path.cwd()}.".strip()
    _type_file(screen, title, Blank("file", "File", "", "its name or path"), about, then)


def _type_file(screen: AreaScreen, title: str, blank: Blank, about: str, then: Callable[[Path], None]) -> None:
    def typed(name: str) -> None:
        if name:
            then(Path(name).expanduser())

    fill_in(screen.app, title, [blank], lambda values: values["file"], typed, about=about)


def take_open(screen: AreaScreen, title: str, about: str, then: Callable[[Opener, str], None]) -> None:
    """Ask for a file and hand ``then`` what opens it, and its name; in a browser the visitor sends it."""
    if screen.app.is_web:

        def sent(text: str | None) -> None:
            if text:
                raw = text.encode("utf-8", "replace")
                then(lambda: io.BytesIO(raw), "what you sent")

        screen.app.push_screen(Wait(title, about), sent)
        return

    ask_file(screen, title, about, lambda path: then(lambda: path.open("rb"), str(path)))


class Wait(Dialog[str | None]):
    """Waits for what the visitor pastes, or sends from a page of its own; both come as one paste."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,q", "leave", show=False),
        Binding("enter,f", "page", show=False),
    ]
    help_text = "Paste the text here, or f: send a file from your own device. Escape leaves all as it was."

    def __init__(self, title: str, about: str) -> None:
        super().__init__(title)
        self._about = about

    def compose(self) -> ComposeResult:
        with Vertical(id="wait", classes="sheet"):
            yield self.title_line()
            yield Static(Content(safe(self._about, 600)), classes="about", markup=False)
            yield Static(Content("Paste the text here, or send a file from your own device."), markup=False)
            items = (Item("page", "f", "Send a file"), Item("leave", "esc", "Leave"))
            yield Bar(items, id="wait-bar", spread=True)

    def on_paste(self, event: Paste) -> None:
        event.stop()
        self.dismiss(event.text.replace("\r\n", "\n").replace("\r", "\n"))

    def action_page(self) -> None:
        if visit := os.environ.get(VISIT):
            self.app.open_url(f"/take/{visit}")
