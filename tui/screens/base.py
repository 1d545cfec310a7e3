"""What every area has: the areas above, a line of words and the actions below."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, ClassVar, Protocol, cast

from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.content import Content
from textual.screen import Screen
from textual.widget import Widget
from textual.widgets import Static

from lapwise.tui.actions import AREAS, Action, action_of, area_bindings, bindings, foot, of_area
from lapwise.tui.present.words import safe
from lapwise.tui.widgets.bar import Bar, Item
from lapwise.tui.widgets.fields import Fields
from lapwise.tui.widgets.rows import Rows

if TYPE_CHECKING:
    from lapwise.tui.controller import Controller
    from lapwise.tui.keymap import Choices, Keymap
    from lapwise.tui.keys_in_turn import KeysInTurn
    from lapwise.tui.screens.sheet import Line
    from lapwise.tui.workspace import Workspace


LOADING = "One moment: still loading."
"""What is said to a key that comes before the bench is read."""


class Program(Protocol):
    """What the areas ask of the program they run in."""

    controller: Controller
    clock: Callable[[], float]
    keymap: Keymap
    keys: KeysInTurn
    touch: bool
    large: bool
    choices: Choices

    def choose(self, **changes: Any) -> None: ...

    def action_area(self, area: str) -> None: ...

    def action_act(self, action_id: str) -> None: ...

    def act_in(self, action: Action) -> None: ...

    def say_what_is_due(self) -> None: ...


class AreaScreen(Screen[None]):
    """One area. Subclasses name their ``area`` and compose their body; ``do_…`` methods carry out the actions.

    Own bench and sample share the screens: nothing read or typed at the one may be shown, or kept, at the other. What
    holds anything calls :meth:`meet` first in ``refresh_view`` and says in :meth:`forget` what it holds.
    """

    AUTO_FOCUS: ClassVar[str | None] = None
    ESCAPE_TO_MINIMIZE: ClassVar[bool] = False
    area: ClassVar[str] = ""
    listening = False
    """False until what is in it stands and has the focus."""
    _met: Workspace | None = None
    _row: ClassVar[str] = ""

    def __init_subclass__(cls, area: str = "", row: str = "", **options: Any) -> None:
        """``row``: the action that a row chosen in the area's list stands for."""
        if area:
            cls.area, cls._row = area, row
            cls.BINDINGS = [*bindings(of_area(area)), *area_bindings()]
        super().__init_subclass__(**options)

    def compose(self) -> ComposeResult:
        yield Bar(id="areas")
        yield from self.body()
        yield Static("", id="status", markup=False)
        yield Bar(id="actions", spread=True)

    def body(self) -> Iterable[Widget]:
        """The widgets between the bars."""
        return ()

    @property
    def lapwise(self) -> Program:
        """The program, typed."""
        return cast("Program", self.app)

    @property
    def controller(self) -> Controller:
        """The case at hand."""
        return self.lapwise.controller

    @property
    def workspace(self) -> Workspace:
        """All that the engine can do."""
        return self.lapwise.controller.workspace

    def on_mount(self) -> None:
        self.call_after_refresh(setattr, self, "listening", True)
        self.show_bars()
        self.dress()
        if self.workspace.ready:
            self.refresh_view()

    def dress(self) -> None:
        """Put on the layout the person chose."""
        for name, on in (("-touch", self.lapwise.touch), ("-large", self.lapwise.large)):
            self.set_class(on, name)

    def on_screen_resume(self) -> None:
        self.show_bars()
        self.dress()
        if self.workspace.ready:
            self.refresh_view()
        self.call_after_refresh(self.lapwise.say_what_is_due)

    def show_bars(self) -> None:
        """Areas and actions, with the person's own keys."""
        keymap = self.lapwise.keymap
        areas = [Item(a.id, keymap.to_area(a.id), a.label, a.short, on=a.id == self.area) for a in AREAS]
        if self.workspace.sample:
            areas.append(Item("app.sample", self.key("app.sample"), "SAMPLE", alert=True))
        self.query_one("#areas", Bar).show(areas)
        actions = [Item(a.id, keymap.shown(a), a.label) for a in foot(self.area)]
        if self.lapwise.touch:
            # a finger has no keys: what is not at the foot is one tap further
            actions[-1:] = [Item("app.more", "≡", "More"), actions[-1]]
        self.query_one("#actions", Bar).show(actions)

    def meet(self) -> None:
        """Forget everything if the bench is another than the last time."""
        if self._met is not self.workspace:
            if self._met is not None:
                self.forget()
                self.say("")
            self._met = self.workspace

    def forget(self) -> None:
        """Let go of what was read, typed and worked out."""

    def refresh_view(self) -> None:
        """Show what is true now."""

    def case_changed(self) -> None:
        """Called while this area is shown and the case, or what its ranking rests on, is another than before."""
        self.refresh_view()

    def again_if_resized(self, selector: str, width: int, show: Callable[[], None]) -> None:
        """Show again once the layout has settled, if the part it was laid out for came out with another width."""

        def check() -> None:
            if not self.is_mounted:
                return
            now = self.query_one(selector).size.width
            if now != width:
                show()
            elif now == 0:
                self.set_timer(0.05, check)

        self.call_after_refresh(check)

    def key(self, action_id: str) -> str:
        """The person's key for an action, as it is written on the screen."""
        return self.lapwise.keymap.shown(action_of(action_id))

    @property
    def row_height(self) -> int:
        """Lines of a row in the lists of this area."""
        return 2 if self.lapwise.large or self.lapwise.touch else 1

    def read_on(self, selector: str) -> None:
        """Further down in what is read, and from its end back to the top."""
        pane = self.query_one(selector, VerticalScroll)
        down = 8 if pane.scroll_y < pane.max_scroll_y else -100_000
        pane.scroll_relative(y=down, animate=False)

    def show_answer(self, selector: str, pane: str, content: Content) -> None:
        """Show what is read in a pane; another answer than before begins at its top."""
        place = self.query_one(selector, Static)
        if str(place.content) != content.plain:
            self.query_one(pane, VerticalScroll).scroll_home(animate=False)
        place.update(content)

    def say(self, text: str, *, style: str = "") -> None:
        """One line about what just happened."""
        line = Content.styled(safe(text, 400), style) if text else Content("")
        place = self.query_one("#status", Static)
        long = len(line.wrap(place.content_size.width)) > 1 if place.content_size.width else False
        place.set_class(long and not self.has_class("-short"), "-long")
        place.update(line, layout=False)

    def warn(self, text: str) -> None:
        """One line about what went wrong, or cannot be."""
        self.say("! " + text, style="bold $warning")

    def read(
        self,
        title: str,
        lines: Sequence[Line],
        does: Mapping[Item, Callable[[], object]] = MappingProxyType({}),
        *,
        close: str = "Close",
        picture: str = "",
    ) -> None:
        """Lay a sheet over the screen. ``does``: what may be chosen on it, and what that does. ``picture``: the id of
        its drawing."""
        from lapwise.tui.screens.sheet import Sheet  # start-up time

        by_id = {item.id: act for item, act in does.items()}
        sheet = Sheet(title, lines, tuple(does), close=close, picture=picture)

        def chosen(item_id: str | None) -> None:
            if item_id is not None:
                by_id[item_id]()

        self.app.push_screen(sheet, chosen)

    # --- actions ---------------------------------------------------------------------------------------------

    def action_act(self, action_id: str) -> None:
        """Carry out an action of the table by its id."""
        if not self.workspace.ready:
            self.say(LOADING)
            return
        if self._met is not None and self._met is not self.workspace:
            self.refresh_view()  # until the first view of another bench, what is held is still the other's
        self.say("")  # what was said of the action before is no longer so
        getattr(self, action_of(action_id).method)()

    def on_rows_chosen(self, message: Rows.Chosen) -> None:
        message.stop()
        getattr(self, action_of(f"{self.area}.{self._row}").method)()

    def on_fields_chosen(self, message: Fields.Chosen) -> None:
        message.stop()
        if self.workspace.ready:
            self.field_chosen(message.field_id)

    def field_chosen(self, field: str) -> None:
        """Do what a tap on a field asks for."""

    def on_bar_chosen(self, message: Bar.Chosen) -> None:
        message.stop()
        if message.item_id.startswith("app."):
            self.lapwise.action_act(message.item_id)
        elif message.bar.id == "areas":
            self.lapwise.action_area(message.item_id)
        else:
            self.action_act(message.item_id)
