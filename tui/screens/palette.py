"""Every action by its name, for the palette."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import partial
from typing import NamedTuple, cast

from textual.command import DiscoveryHit, Hit, Hits, Provider
from textual.content import Content

from lapwise.tui.actions import AREAS, OUTCOME_ACTIONS, Action, of_area
from lapwise.tui.screens.base import AreaScreen, Program

_WORD = re.compile(r"\w+")


class Found(NamedTuple):
    """One line of the palette: its name, what it is about, what it does, other words for it, whether it logs."""

    name: str
    about: str
    run: Callable[[], None]
    also: str = ""
    logs: bool = False

    @property
    def label(self) -> str:
        """The name without its key."""
        return self.name.rpartition("  (")[0] or self.name


def likeness(found: Found, typed: str) -> float:
    """How well a line fits what was typed, 0 for not at all. Every word typed must begin a word of the line: those of
    its name count most, then its other words, then what it is about. What logs stands behind what does not."""
    wanted = _words(typed)
    if not wanted:
        return 0.0
    label, also, about = _words(found.label), _words(found.also), _words(found.about)
    ways = (about, [*label, *also], label)
    score = max((place for place, known in enumerate(ways, 1) if _begun(wanted, known)), default=0)
    if not score and _begun(wanted, [*label, *also, *about]):
        score = 1
    if " ".join(label).startswith(" ".join(wanted)):
        score = 4
    return max(0.0, score - 0.5 * found.logs)


def _words(text: str) -> list[str]:
    return _WORD.findall(text.casefold())


def _begun(wanted: list[str], known: list[str]) -> bool:
    return all(any(word.startswith(one) for word in known) for one in wanted)


def _marked(name: str, typed: str) -> Content:
    """The name with the beginnings that were typed set off."""
    content, wanted = Content(name), _words(typed)
    for word in _WORD.finditer(name):
        length = max((len(one) for one in wanted if word[0].casefold().startswith(one)), default=0)
        if length:
            content = content.stylize("bold underline", word.start(), word.start() + length)
    return content


class Actions(Provider):
    """Every action by its name: first those of the present area, then the areas, those of everywhere, and the rest."""

    def _all(self) -> list[Found]:
        app, screen = cast("Program", self.app), self.screen

        def named(action: Action, run: Callable[[], None], area: str = "") -> Found:
            logs = action.id in OUTCOME_ACTIONS.values()
            return Found(f"{area}{action.label}  ({app.keymap.shown(action)})", action.about, run, action.also, logs)

        here = screen.area if isinstance(screen, AreaScreen) else ""
        out: list[Found] = []
        if isinstance(screen, AreaScreen):
            out += [named(a, partial(screen.action_act, a.id)) for a in of_area(here)]
        out += [Found(f"Go to {area.label}", area.about, partial(app.action_area, area.id)) for area in AREAS]
        out += [named(a, partial(app.action_act, a.id)) for a in of_area("app") if a.id != "app.palette"]
        for area in AREAS:
            if area.id != here:
                out += [named(a, partial(app.act_in, a), f"{area.label}: ") for a in of_area(area.id)]
        return out

    async def discover(self) -> Hits:
        for found in self._all():
            yield DiscoveryHit(found.name, found.run, help=found.about)

    async def search(self, query: str) -> Hits:
        for place, found in enumerate(self._all()):
            score = likeness(found, query)
            if score > 0:  # of those that fit alike the one named first stands first
                yield Hit(
                    score - place / 1000, _marked(found.name, query), found.run, text=found.name, help=found.about
                )
