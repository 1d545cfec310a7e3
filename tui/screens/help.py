"""Help: what the part in use does, the keys of the area, and pages to read."""

from __future__ import annotations

from importlib.resources import files
from typing import TYPE_CHECKING, Any

from textual.app import ComposeResult
from textual.content import Content

from lapwise.tui.actions import AREAS, of_area
from lapwise.tui.keymap import KEYS_FILE, Keymap
from lapwise.tui.present.words import fit
from lapwise.tui.screens.base import AreaScreen
from lapwise.tui.screens.sheet import Line, Sheet, heading, para
from lapwise.tui.widgets.bar import Item

if TYPE_CHECKING:
    from pathlib import Path

    from textual.screen import Screen


TRIED_BY = "Beside each promise is the test that tries to break it; a developer runs them."
"""What the page of promises says of its second column, which is left out on the screen."""


def help_of_focus(screen: Screen[Any]) -> str:
    """What the widget in focus says of itself, else its nearest ancestor that says something."""
    node = screen.focused or screen
    for ancestor in node.ancestors_with_self:
        text = getattr(ancestor, "help_text", "")
        if text:
            return str(text)
    return ""


def help_sheet(screen: Screen[Any], area: str, keymap: Keymap) -> Sheet:
    """The sheet that F1 brings. ``area``: the one at work, if ``screen`` lies over it."""
    area = screen.area if isinstance(screen, AreaScreen) else area
    title = next((a.label for a in AREAS if a.id == area), "Help")
    lines = [para(help_of_focus(screen)), Content(""), heading(f"Keys: {title}")]
    lines += [_key_line(keymap.shown(action), action.about) for action in of_area(area)]
    lines += [Content(""), heading("Keys everywhere"), _key_line("1 to 7", "Go to an area")]
    lines += [_key_line(keymap.shown(action), action.about) for action in of_area("app")]
    items = [
        Item("palette", "a", "All actions"),
        Item("page", "p", "This area"),
        Item("guide", "g", "Guide"),
        Item("glossary", "w", "Words"),
        Item("keys", "k", "Own keys"),
    ]
    return Sheet("Help", lines, items)


def keys_sheet(keymap: Keymap, folder: Path) -> Sheet:
    """How to choose own keys: the file, an example, and the name of every action."""
    lines: list[Line] = [
        para(f"Write the keys you want into {folder / KEYS_FILE}, an action and its key to a line:"),
        Content(""),
        Content("    case.undo: z"),
        Content("    area.record: r"),
        Content(""),
        para(
            "They take effect at the next start; a line that cannot be used is named then, and the others still count."
        ),
    ]
    lines += [Content(""), heading("To an area"), *(_own_line(f"area.{a.id}", keymap.to_area(a.id)) for a in AREAS)]
    for area, title in (("app", "Everywhere"), *((a.id, a.label) for a in AREAS)):
        lines += [Content(""), heading(title)]
        lines += [_own_line(a.id, keymap.shown(a), a.label) for a in of_area(area)]
    return Sheet("Own keys", lines)


def _own_line(name: str, key: str, label: str = "") -> Content:
    return Content.assemble((fit(key, 8), "bold $accent"), fit(name, 24), (label, "$secondary"))


def _key_line(key: str, about: str) -> Content:
    return Content.assemble((fit(key, 8), "bold $accent"), about)


def page_text(name: str) -> str:
    """The text of a help page; a line that says so where there is none."""
    try:
        text = files("lapwise.tui").joinpath("help", f"{name}.md").read_text(encoding="utf-8")
    except OSError:
        return "# Not here yet\n\nThere is no page for this area."
    return _without_tests(text) if name == "promises" else text


def _without_tests(text: str) -> str:
    """The promises without the tests that try them: a table of two columns becomes a list of its first."""
    out = []
    for line in text.splitlines():
        if not line.startswith("|"):
            out.append(line)
        elif not line.startswith(("|---", "| What you may rely on ")):
            out.append("- " + line.split("|")[1].strip())
    return "\n".join(out).replace(TRIED_BY, "`lapwise record promises` names the test that tries to break each.")


class Page(Sheet):
    """A help page to read."""

    further = "space"

    def __init__(self, name: str) -> None:
        super().__init__("", ())
        self.add_class("-page")
        self._name_of_page = name

    def text(self) -> ComposeResult:
        from textual.widgets import Markdown

        yield Markdown(page_text(self._name_of_page), id="page-text", open_links=False)
