"""The program on the terminal: areas, colours, keys, palette and help round one bench."""

from __future__ import annotations

import asyncio
import importlib
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from functools import partial, partialmethod
from typing import Any, ClassVar

from textual.app import App
from textual.binding import BindingType
from textual.events import Event, Key, MouseDown, MouseEvent, Paste
from textual.screen import Screen

from lapwise.engine.folders import Folders
from lapwise.tui.actions import AREAS, Action, action_of, bindings, of_area
from lapwise.tui.case_at_hand import Front
from lapwise.tui.controller import Controller
from lapwise.tui.drags import Drags
from lapwise.tui.escape_key import keep_escape_apart
from lapwise.tui.keymap import Choices, read_choices, read_keymap, write_choices
from lapwise.tui.keys_in_turn import KeysInTurn
from lapwise.tui.open_case import OpenCase
from lapwise.tui.present.words import keep_private
from lapwise.tui.screens.asking import choose
from lapwise.tui.screens.base import LOADING, AreaScreen
from lapwise.tui.screens.case import CaseScreen
from lapwise.tui.screens.dialog import Dialog
from lapwise.tui.screens.entry import Entry
from lapwise.tui.screens.palette import Actions
from lapwise.tui.themes import DARK, FACET, LIGHT, PLAIN, first_theme, themes
from lapwise.tui.work import start
from lapwise.tui.workspace import Workspace

ROUND_SECONDS = 3.0
"""How often it is looked whether another window has written to the record."""


def _screen(area: str) -> Screen[Any]:
    """The screen of an area, its module read on the first visit."""
    module = importlib.import_module(f"lapwise.tui.screens.{area}")
    screen: Screen[Any] = getattr(module, f"{area.capitalize()}Screen")()
    return screen


class LapwiseApp(App[None]):
    """One bench on the screen. ``clock``: seconds that run forward, for the time of a try."""

    TITLE = "Lapwise"
    CSS_PATH = "lapwise.tcss"
    COMMANDS = {Actions}  # noqa: RUF012  (Textual's own class variable, a set)
    ENABLE_COMMAND_PALETTE = True
    COMMAND_PALETTE_BINDING = "ctrl+p"
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(of_area("app"), everywhere=True)]
    MODES = {area.id: (CaseScreen if area.id == "case" else partial(_screen, area.id)) for area in AREAS}  # noqa: RUF012
    DEFAULT_MODE = "case"
    HORIZONTAL_BREAKPOINTS = [(0, "-narrow"), (76, "-normal"), (110, "-wide")]  # noqa: RUF012
    VERTICAL_BREAKPOINTS = [(0, "-short"), (24, "-usual"), (34, "-tall")]  # noqa: RUF012

    def __init__(
        self,
        where: Folders,
        *,
        touch: bool = False,
        workspace: Workspace | None = None,
        clock: Callable[[], float] = time.monotonic,
        theme: str | None = None,
    ) -> None:
        keep_escape_apart()
        self.choices: Choices = read_choices(where.config)
        first = theme or first_theme(chosen=self.choices.theme)
        # said before Textual chooses its filters: without colour the terminal's own ink and paper are used
        super().__init__(ansi_color=True if first == PLAIN else None)
        self.where = where
        self.clock = clock
        self.controller = self._controller(workspace or Workspace(where))
        self.keys = KeysInTurn(self, super().on_event, lambda: self.controller.shown)
        self.drags = Drags(self)
        self.keymap = read_keymap(where.config)
        self.touch = touch or self.choices.touch
        self.large = self.choices.large
        self._told: set[str] = set()
        self._own: Controller | None = None
        """That of the own bench, while the sample is looked at."""
        self._changing = asyncio.Lock()
        """Held while the bench is read or changed for the other: a key pressed twice goes there and back."""
        self._offer_due = self._offered = False
        """Whether to say, at the next moment, that nothing of the sample is kept; whether that was said."""
        for known in themes():
            self.register_theme(known)
        self.theme = first
        self.set_keymap(dict(self.keymap.keys))

    def get_theme_variable_defaults(self) -> dict[str, str]:
        return FACET

    def _controller(self, workspace: Workspace) -> Controller:
        front = Front(partial(start, self), self._case_changed, self.painted, self.clock, self._entered)
        return Controller(workspace, front)

    @property
    def workspace(self) -> Workspace:
        """All that the engine can do."""
        return self.controller.workspace

    @property
    def open_case(self) -> OpenCase:
        """The case at hand."""
        return self.controller.open_case

    async def on_event(self, event: Event) -> None:
        if isinstance(event, Key) and event.key == "ctrl+c" and not event.is_forwarded:
            from textual.widgets import Input  # start-up time

            typed = self.focused
            if isinstance(typed, Input) and not typed.selected_text:
                self.action_help_quit()
                return
        if isinstance(event, MouseDown):
            self.keys.tapped()
        by_finger = (self.touch or self.is_web) and not getattr(event, "is_forwarded", False)
        if isinstance(event, MouseEvent) and by_finger and self.drags.takes(event):
            return
        if not (isinstance(event, Key | Paste) and not event.is_forwarded and self.keys.must_wait(event)):
            await super().on_event(event)

    # --- start and end ---------------------------------------------------------------------------------------

    def on_ready(self) -> None:
        if self.is_web:
            keep_private(self.where)
        # reading begins once the first picture is on the screen, so that it does not hold it up
        self.set_timer(0.03, lambda: start(self, self._begin, group="start"))
        self.set_interval(ROUND_SECONDS, lambda: start(self, self.controller.look_round, group="round", alone=True))

    async def _begin(self) -> None:
        async with self._changing:
            await self._start()

    async def _start(self) -> None:
        await self.controller.begin()
        self._greet()

    def _case_changed(self) -> None:
        shown = self._base()
        if self.workspace.ready and shown is not None and shown.is_mounted:
            shown.case_changed()

    def _base(self) -> AreaScreen | None:
        """The area shown, be it under a dialog; None once the program is on its way out."""
        screen = self.screen_stack[0] if self.is_running and self._screen_stacks.get(self.current_mode) else None
        return screen if isinstance(screen, AreaScreen) else None

    def warn(self, text: str) -> None:
        """Say in the area shown what went wrong, or cannot be."""
        if (shown := self._base()) is not None and shown.is_mounted:
            shown.warn(text)

    async def painted(self) -> None:
        """Wait until what was shown is painted, so that what is not wanted at once does not hold it up."""
        if not self.is_running:
            return
        seen = asyncio.Event()
        self.screen.call_after_refresh(seen.set)
        with suppress(TimeoutError):
            await asyncio.wait_for(seen.wait(), 0.2)

    def _greet(self) -> None:
        screen = self.screen
        own = [*self.keymap.problems, *([self.choices.problem] if self.choices.problem else [])]
        words = [text for text in (*self.workspace.words, *map(str, own)) if text not in self._told]
        self._told |= set(words)
        if isinstance(screen, AreaScreen):
            if len(words) > 1 or len("".join(words)) > 70:
                from lapwise.tui.screens.sheet import para  # start-up time

                screen.read("Please look at this", [para("! " + text) for text in words])
            elif words:
                screen.warn(words[0])
            elif self.workspace.sample:
                screen.say("The sample: invented, nothing is kept. F8: your own bench.")
            elif self.open_case.resumed:
                clock = " The clock is still running." if self.controller.trying else ""
                screen.say("Your case is still open, as you left it." + clock)
        known = self.choices.welcomed or self.workspace.sample or self.open_case.resumed
        if not known and not self.open_case.case.material:
            from lapwise.tui.screens.welcome import Welcome  # start-up time

            self.push_screen(Welcome(), self._welcomed)

    def _welcomed(self, answer: str | None) -> None:
        self.choose(welcomed=True)
        if answer in ("sample", "guide"):
            self.action_act(f"app.{answer}")

    async def on_unmount(self) -> None:
        for controller in (self._own, self.controller):
            if controller is not None:
                await controller.close()

    def _area_screens(self) -> list[AreaScreen]:
        stacks = [stack[0] for stack in self._screen_stacks.values() if stack]
        return [screen for screen in stacks if isinstance(screen, AreaScreen) and screen.is_mounted]

    # --- actions of everywhere -------------------------------------------------------------------------------

    def action_area(self, area: str) -> None:
        """Go to an area."""
        while len(self.screen_stack) > 1:
            self.pop_screen()
        left = self.screen
        if area != self.current_mode and isinstance(left, AreaScreen) and left.is_mounted:
            left.say("")  # what was said there is an old story on the way back
        self.switch_mode(area)

    def act_in(self, action: Action) -> None:
        """Go to the area of an action, and carry it out there."""
        self.action_area(action.area)

        async def act() -> None:
            while not getattr(self.screen, "listening", True):
                await asyncio.sleep(0.01)
            if (shown := self._base()) is not None and shown.area == action.area:
                shown.action_act(action.id)

        start(self, act, group="go")

    def action_act(self, action_id: str) -> None:
        """Carry out an action of everywhere by its id."""
        getattr(self, action_of(action_id).method)()

    def do_help(self) -> None:
        from lapwise.tui.screens.help import help_sheet  # start-up time

        self.push_screen(help_sheet(self.screen, self.current_mode, self.keymap), self._after_help)

    def _after_help(self, chosen: str | None) -> None:
        if chosen:
            getattr(self, f"do_{chosen}")()

    def show_page(self, name: str) -> None:
        """Show a help page by its file name without ending."""
        from lapwise.tui.screens.help import Page  # start-up time

        self.push_screen(Page(name))

    do_guide = partialmethod(show_page, "guide")
    do_glossary = partialmethod(show_page, "glossary")
    do_promises = partialmethod(show_page, "promises")

    def do_page(self) -> None:
        self.show_page(self.current_mode)

    def do_keys(self) -> None:
        """How to choose own keys, with the name of every action."""
        from lapwise.tui.screens.help import keys_sheet  # start-up time

        self.push_screen(keys_sheet(self.keymap, self.where.config))

    def do_palette(self) -> None:
        self.action_command_palette()

    def do_more(self) -> None:
        """Every action of this area and of everywhere as a list to tap."""
        screen = self.screen
        if not isinstance(screen, AreaScreen):
            return
        entries = [Entry(a.id, a.label, a.about, "Here", a.also) for a in of_area(screen.area)]
        entries += [Entry(a.id, a.label, a.about, "Everywhere", a.also) for a in of_area("app") if a.id != "app.more"]
        choose(self, "What to do?", entries, lambda a: (self if a.startswith("app.") else screen).action_act(a))

    def do_leave(self) -> None:
        """Ask whether to leave; asked again, leave."""
        from lapwise.tui.screens.leave import Leave  # start-up time

        if isinstance(self.screen, Leave):
            self.screen.dismiss("leave")
        elif self._at_risk:
            self.do_quit()
        else:
            self.push_screen(Leave(), lambda answer: self.exit() if answer == "leave" else None)

    action_help_quit = do_leave  # ctrl+c, where there is nothing to copy

    @property
    def _at_risk(self) -> bool:
        """Something was entered at the sample that is gone when it is left."""
        return self._own is not None and bool(self.controller.entered)

    def do_quit(self) -> None:
        from lapwise.tui.screens.leave import LeaveSample  # start-up time

        if not self._at_risk or isinstance(self.screen, LeaveSample):
            self.exit()
        else:
            self.push_screen(LeaveSample(), partial(self._left, end=True))

    def _left(self, answer: str | None, *, end: bool) -> None:
        """What to do with what was entered at the sample; ``end``: the program is left, not only the sample."""
        if answer == "copy":
            start(self, partial(self._copy, end=end), group="start", failed="Not copied")
        elif answer == "leave" and end:
            self.exit()
        elif answer == "leave":
            start(self, self._swap, group="start")

    async def _copy(self, *, end: bool = False) -> None:
        """Copy what was entered at the sample to the own bench, and go there."""
        assert self._own is not None
        said = await self._own.take_over(self.controller)
        if end:
            self.exit()
            return
        await self._swap()
        if (shown := self._base()) is not None:
            shown.say(said)

    def _entered(self) -> None:
        self._offer_due = self._own is not None and not self._offered
        if self._offer_due:
            self.call_later(self.say_what_is_due)

    def say_what_is_due(self) -> None:
        """At the first thing entered at the sample, once no list lies over the area: that it is not kept."""
        if not self._offer_due or self._own is None or not isinstance(self.screen, AreaScreen):
            return
        self._offer_due, self._offered = False, True
        from lapwise.tui.screens.leave import NotKept  # start-up time

        self.push_screen(NotKept(), partial(self._left, end=False))

    def do_light(self) -> None:
        if self.theme == PLAIN and self.no_color:
            why = "Colours are off, since NO_COLOR is set: start without it to choose."
            self.screen.say(why) if isinstance(self.screen, Dialog) else self.warn(why)
            return
        self.theme = LIGHT if self.theme != LIGHT else DARK
        self.choose(theme=self.theme)

    def _turn(self, name: str) -> None:
        """Put on another layout, or take it off."""
        on = not getattr(self, name)
        setattr(self, name, on)
        self.choose(**{name: on})
        for screen in self._area_screens():
            screen.dress()
            screen.show_bars()
            if self.workspace.ready and screen is self.screen:
                screen.refresh_view()

    do_large = partialmethod(_turn, "large")
    do_touch = partialmethod(_turn, "touch")

    def choose(self, **changes: Any) -> None:
        """Keep another choice of how the screens are liked."""
        self.choices = replace(self.choices, **changes)
        if not self.workspace.sample:
            write_choices(self.where.config, self.choices)

    def do_sample(self) -> None:
        """To the invented sample and back."""
        from lapwise.tui.screens.leave import LeaveSample  # start-up time

        if not self.workspace.ready:
            self.warn(LOADING)
        elif self._at_risk:
            self.push_screen(LeaveSample(), partial(self._left, end=False))
        else:
            start(self, self._swap, group="start")

    async def _swap(self) -> None:
        async with self._changing:
            await self.controller.keep()
            for screen in self._area_screens():
                screen.say("")
            if self._own is not None:
                sample, self.controller, self._own = self.controller, self._own, None
                await sample.close()
                self._case_changed()
                self._greet()
            elif not self.workspace.sample:
                await self._to_sample()
            for screen in self._area_screens():
                screen.show_bars()

    async def _to_sample(self) -> None:
        from lapwise.tui.sample import sample_folders  # start-up time

        workspace = Workspace(await self.workspace.do(sample_folders), sample=True)
        await workspace.do(workspace.load)
        self._own, self.controller = self.controller, self._controller(workspace)
        self._offer_due = self._offered = False
        await self._start()
