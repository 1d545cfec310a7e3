"""The program on the terminal: areas, colours, keys, palette and help round one bench."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from typing import TYPE_CHECKING, Any, ClassVar

from textual.app import App, InvalidThemeError
from textual.binding import BindingType
from textual.command import DiscoveryHit, Hit, Hits, Provider
from textual.events import Event, Key
from textual.screen import Screen

from lapwise.engine.case import Case
from lapwise.engine.errors import LapwiseError
from lapwise.engine.folders import Folders
from lapwise.engine.wording import small
from lapwise.tui.actions import ACTIONS, AREAS, Action, bindings, of_area
from lapwise.tui.keymap import Choices, read_choices, read_keymap, write_choices
from lapwise.tui.open_case import OpenCase, ended, fresh, restated
from lapwise.tui.screens.base import AreaScreen
from lapwise.tui.screens.case import CaseScreen
from lapwise.tui.screens.dialog import Dialog
from lapwise.tui.screens.entry import Entry
from lapwise.tui.themes import DARK, LIGHT, PLAIN, first_theme, themes
from lapwise.tui.work import start
from lapwise.tui.workspace import Workspace

if TYPE_CHECKING:
    from lapwise.engine.record.model import OwnLap

Screens = Callable[[], Screen[Any]]


def _screen(area: str) -> Screens:
    """The screen of an area, its module read on the first visit."""

    def make() -> Screen[Any]:
        import importlib

        module = importlib.import_module(f"lapwise.tui.screens.{area}")
        screen: Screen[Any] = getattr(module, f"{area.capitalize()}Screen")()
        return screen

    return make


class Actions(Provider):
    """Every action of the present area and of everywhere, and the way to the other areas, by name."""

    def _all(self) -> list[tuple[str, str, Callable[[], None]]]:
        app = self.app
        assert isinstance(app, LapwiseApp)
        screen = self.screen
        out: list[tuple[str, str, Callable[[], None]]] = []
        if isinstance(screen, AreaScreen):
            for action in of_area(screen.area):
                out.append(self._entry(app, action, lambda a=action: screen.action_act(a.id)))  # type: ignore[misc]
        for area in AREAS:
            out.append((f"Go to {area.label}", area.about, lambda a=area.id: app.action_area(a)))  # type: ignore[misc]
        for action in of_area("app"):
            if action.id != "app.palette":
                out.append(self._entry(app, action, lambda a=action: app.action_act(a.id)))  # type: ignore[misc]
        return out

    @staticmethod
    def _entry(app: LapwiseApp, action: Action, run: Callable[[], None]) -> tuple[str, str, Callable[[], None]]:
        return (f"{action.label}  ({app.keymap.shown(action)})", action.about, run)

    async def discover(self) -> Hits:
        for name, about, run in self._all():
            yield DiscoveryHit(name, run, help=about)

    async def search(self, query: str) -> Hits:
        matcher = self.matcher(query)
        for name, about, run in self._all():
            score = max(matcher.match(name), matcher.match(about) * 0.8)
            if score > 0:
                yield Hit(score, matcher.highlight(name), run, text=name, help=about)


class LapwiseApp(App[None]):
    """One bench on the screen. ``clock``: seconds that run forward, for the time of a try."""

    TITLE = "Lapwise"
    CSS_PATH = "lapwise.tcss"
    COMMANDS = {Actions}  # noqa: RUF012  (Textual's own class variable, a set)
    ENABLE_COMMAND_PALETTE = True
    COMMAND_PALETTE_BINDING = "ctrl+p"
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(of_area("app"), everywhere=True)]
    MODES = {area.id: (CaseScreen if area.id == "case" else _screen(area.id)) for area in AREAS}  # noqa: RUF012
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
        self.choices: Choices = read_choices(where.config)
        first = theme or first_theme(chosen=self.choices.theme)
        # said before Textual chooses its filters: without colour the terminal's own ink and paper are used
        super().__init__(ansi_color=True if first == PLAIN else None)
        self.where = where
        self.workspace = workspace or Workspace(where)
        self.clock = clock
        self.keymap = read_keymap(where.config)
        self.touch = touch or self.choices.touch
        self.large = self.choices.large
        self.open_case = OpenCase(Case())
        self.running: tuple[str, float] | None = None
        """The try that was running when the program ended, and for how many seconds by now."""
        self._writing = asyncio.Lock()
        self._told: set[str] = set()
        self.own_laps: tuple[OwnLap, ...] = ()
        self.seen_lately: tuple[str, ...] = ()
        self._own_bench: Workspace | None = None
        for known in themes():
            self.register_theme(known)
        try:
            self.theme = first
        except InvalidThemeError:
            self.theme = DARK
        self.set_keymap(dict(self.keymap.keys))

    async def on_event(self, event: Event) -> None:
        screen = self.screen if self._screen_stack else None
        if isinstance(event, Key) and isinstance(screen, Dialog) and not screen.listening:
            screen.typed_early(event)
            return
        await super().on_event(event)

    # --- start and end ---------------------------------------------------------------------------------------

    def on_ready(self) -> None:
        # reading begins once the first picture is on the screen, so that it does not hold it up
        self.set_timer(0.03, lambda: start(self, self._start, group="start", alone=True))

    async def _start(self) -> None:
        try:
            if not self.workspace.ready:
                await self.workspace.do(self.workspace.load)
            self.open_case = await self.workspace.do(self.workspace.resume)
            self.running = await self.workspace.do(self.workspace.clock_of, self.open_case)
            await self.look_back()
        except LapwiseError as error:
            screen = self.screen
            if isinstance(screen, AreaScreen):
                screen.warn(str(error.problems[0]))
            return
        for area_screen in self._area_screens():
            area_screen.bench_ready()
        self._greet()

    def _greet(self) -> None:
        screen = self.screen
        own = [*self.keymap.problems, *([self.choices.problem] if self.choices.problem else [])]
        words = [*self.workspace.words, *map(str, own)]
        words = [text for text in words if text not in self._told]
        self._told |= set(words)
        if isinstance(screen, AreaScreen):
            if len(words) > 1 or len("".join(words)) > 70:
                from lapwise.tui.screens.sheet import para

                screen.read("Please look at this", [para("! " + text) for text in words])
            elif words:
                screen.warn(words[0])
            elif self.workspace.sample:
                screen.say("The sample: all invented, nothing of it is kept. F8: back to your own bench.")
            elif self.open_case.resumed:
                clock = " The clock of the try runs on." if self.running else ""
                screen.say("Your case is still open, as you left it." + clock)
        if (
            not self.choices.welcomed
            and not self.workspace.sample
            and not self.open_case.resumed
            and not self.open_case.case.material
        ):
            from lapwise.tui.screens.welcome import Welcome

            self.push_screen(Welcome(), self._welcomed)

    def _welcomed(self, answer: str | None) -> None:
        self._choose(welcomed=True)
        if answer == "sample":
            self.do_sample()
        elif answer == "guide":
            self.do_guide()

    async def on_unmount(self) -> None:
        if self.workspace.ready:
            with suppress(LapwiseError, OSError):
                await self.write(self.workspace.keep)
        for workspace in {self.workspace, self._own_bench} - {None}:
            assert workspace is not None
            workspace.close()

    def _area_screens(self) -> list[AreaScreen]:
        stacks = [stack[0] for stack in self._screen_stacks.values() if stack]
        return [screen for screen in stacks if isinstance(screen, AreaScreen) and screen.is_mounted]

    # --- the case at hand, shared by the areas ---------------------------------------------------------------

    def set_desk(self, open_case: OpenCase) -> None:
        """The case as it now stands."""
        self.open_case = replace(open_case, resumed=False)

    def restate(self, case: Case) -> None:
        """Take the case as it now stands from another area than the case's own, and put it on disk."""
        if ended(self.open_case.case):
            self.open_case = OpenCase(fresh(case))
            case = replace(fresh(case), facet=case.facet, corrections=case.corrections)
        case = restated(case)
        self.open_case = replace(self.open_case, case=case)
        start(self, self.keep, group="keep")

    async def write(self, work: Callable[[OpenCase], OpenCase], *, ends: bool = False) -> None:
        """Put something of the case on disk: one after the other, each upon what the one before left.

        ``work`` runs on the bench's thread. What was stated while it ran stays stated, unless ``work`` ``ends`` the
        case. Raises what ``work`` raises.
        """
        async with self._writing:
            before = self.open_case
            after = await self.workspace.do(work, before)
            stated = self.open_case.case
            if stated != before.case and not ends:
                logged = after.case
                stated = replace(stated, tried=logged.tried, saw=logged.saw, settled=logged.settled)
                after = replace(after, case=stated)
            self.set_desk(after)

    async def keep(self) -> None:
        """Put the case on disk as it now stands; says so if that cannot be."""
        try:
            await self.write(self.workspace.keep)
        except (LapwiseError, OSError) as error:
            screen = self.screen
            if isinstance(screen, AreaScreen):
                screen.warn(f"Not kept: {error}")

    async def look_back(self) -> None:
        """Read own laps and what was seen lately from the record."""
        self.own_laps, self.seen_lately = await self.workspace.do(self.workspace.lately)

    def own_lap_name(self, lap_id: str | None) -> str | None:
        """What the person calls this lap."""
        return next((lap.name for lap in self.own_laps if lap.id == lap_id), None)

    def with_own_lap(self, case: Case, lap_id: str) -> Case:
        """The case with one of the own laps on the machine, and the compound it carries if that is one."""
        lap = next((own for own in self.own_laps if own.id == lap_id), None)
        if lap is None:
            return case
        compound = lap.compound or case.compound
        if lap.carries and compound not in lap.carries:
            compound = None  # it carries several: which of them is on it now must be said
        return replace(case, lap=lap.type, own_lap=lap.id, compound=compound)

    def material_entries(self) -> list[Entry]:
        """All materials to choose from: by name, with the group each belongs to."""
        known = self.workspace.knowledge.materials
        out = []
        for material in sorted(known.values(), key=lambda m: m.label.lower()):
            above = material.line[-1] if len(material.line) > 1 else ""
            about = small(known[above].label) if above in known and above != material.id else material.rank
            out.append(Entry(material.id, material.label, about, words=" ".join((*material.also, *material.line))))
        return out

    # --- actions of everywhere -------------------------------------------------------------------------------

    def action_area(self, area: str) -> None:
        """Go to an area."""
        while len(self.screen_stack) > 1:
            self.pop_screen()
        left = self.screen
        if area != self.current_mode and isinstance(left, AreaScreen) and left.is_mounted:
            left.say("")  # what was said there is an old story on the way back
        self.switch_mode(area)

    def action_act(self, action_id: str) -> None:
        """Carry out an action of everywhere by its id."""
        action = next(a for a in ACTIONS if a.id == action_id)
        getattr(self, action.method)()

    def do_help(self) -> None:
        from lapwise.tui.screens.help import help_sheet

        self.push_screen(help_sheet(self), self._after_help)

    def _after_help(self, chosen: str | None) -> None:
        if chosen == "guide":
            self.do_guide()
        elif chosen == "page":
            self.do_page()
        elif chosen == "words":
            self.do_glossary()
        elif chosen == "all":
            self.do_palette()
        elif chosen == "keys":
            self.do_keys()

    def show_page(self, name: str) -> None:
        """Show a help page by its file name without ending."""
        from lapwise.tui.screens.help import Page

        self.push_screen(Page(name))

    def do_guide(self) -> None:
        self.show_page("guide")

    def do_glossary(self) -> None:
        self.show_page("glossary")

    def do_page(self) -> None:
        self.show_page(self.current_mode)

    def do_keys(self) -> None:
        """How to choose own keys, with the name of every action."""
        from lapwise.tui.screens.help import keys_sheet

        self.push_screen(keys_sheet(self))

    def do_palette(self) -> None:
        self.action_command_palette()

    def do_more(self) -> None:
        """Every action of this area and of everywhere as a list to tap."""
        from lapwise.tui.screens.chooser import Chooser

        screen = self.screen
        if not isinstance(screen, AreaScreen):
            return
        entries = [Entry(a.id, a.label, a.about, "Here") for a in of_area(screen.area)]
        entries += [Entry(a.id, a.label, a.about, "Everywhere") for a in of_area("app") if a.id != "app.more"]

        def chosen(ids: tuple[str, ...] | None) -> None:
            if ids:
                (self.action_act if ids[0].startswith("app.") else screen.action_act)(ids[0])

        self.push_screen(Chooser("What to do?", entries), chosen)

    def do_quit(self) -> None:
        self.exit()

    def do_light(self) -> None:
        if self.theme == PLAIN and self.no_color:
            return
        self.theme = LIGHT if self.theme != LIGHT else DARK
        self._choose(theme=self.theme)

    def do_large(self) -> None:
        self.large = not self.large
        self._choose(large=self.large)
        self._dress()

    def do_touch(self) -> None:
        self.touch = not self.touch
        self._choose(touch=self.touch)
        self._dress()

    def _dress(self) -> None:
        for screen in self._area_screens():
            screen.dress()
            screen.show_bars()
            if self.workspace.ready and screen is self.screen:
                screen.refresh_view()

    def _choose(self, **changes: Any) -> None:
        self.choices = replace(self.choices, **changes)
        if not self.workspace.sample:
            write_choices(self.where.config, self.choices)

    def do_sample(self) -> None:
        """To the invented sample and back."""
        start(self, self._swap, group="start", alone=True)

    async def _swap(self) -> None:
        await self.keep()
        for screen in self._area_screens():
            if isinstance(screen, CaseScreen):
                screen.leave_clock()
            screen.say("")
        if self.workspace.sample and self._own_bench is not None:
            sample, self.workspace, self._own_bench = self.workspace, self._own_bench, None
            sample.close()
        elif not self.workspace.sample:
            from lapwise.tui.sample import sample_folders

            sample = Workspace(await self.workspace.do(sample_folders), sample=True)
            await sample.do(sample.load)
            self._own_bench, self.workspace = self.workspace, sample
        self.open_case = OpenCase(Case())
        await self._start()


__all__ = ["LapwiseApp"]
