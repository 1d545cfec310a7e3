"""Every action by its name, for the palette."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import cast

from textual.command import DiscoveryHit, Hit, Hits, Provider

from lapwise.tui.actions import AREAS, Action, of_area
from lapwise.tui.screens.base import AreaScreen, Program

Found = tuple[str, str, Callable[[], None]]
"""The name, what it is about, and what it does."""


class Actions(Provider):
    """Every action by its name: first those of the present area, then the areas, those of everywhere, and the rest."""

    def _all(self) -> list[Found]:
        app, screen = cast("Program", self.app), self.screen

        def named(action: Action, run: Callable[[], None], area: str = "") -> Found:
            return f"{area}{action.label}  ({app.keymap.shown(action)})", action.about, run

        here = screen.area if isinstance(screen, AreaScreen) else ""
        out: list[Found] = []
        if isinstance(screen, AreaScreen):
            out += [named(a, partial(screen.action_act, a.id)) for a in of_area(here)]
        out += [(f"Go to {area.label}", area.about, partial(app.action_area, area.id)) for area in AREAS]
        out += [named(a, partial(app.action_act, a.id)) for a in of_area("app") if a.id != "app.palette"]
        for area in AREAS:
            if area.id != here:
                out += [named(a, partial(app.act_in, a), f"{area.label}: ") for a in of_area(area.id)]
        return out

    async def discover(self) -> Hits:
        for name, about, run in self._all():
            yield DiscoveryHit(name, run, help=about)

    async def search(self, query: str) -> Hits:
        matcher = self.matcher(query)
        for name, about, run in self._all():
            score = max(matcher.match(name), matcher.match(about) * 0.8)
            if score > 0:
                yield Hit(score, matcher.highlight(name), run, text=name, help=about)
