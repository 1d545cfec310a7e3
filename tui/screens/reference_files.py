"""Knowledge files added and set aside from the reference: it asks before, and nothing is lost by either."""

from __future__ import annotations

from functools import partial
from pathlib import Path

from lapwise.engine.errors import LapwiseError
from lapwise.engine.knowledge.files import own_files
from lapwise.engine.knowledge.taking import Offered, look_at, look_at_sent, put_away, take
from lapwise.engine.record.work import Progress
from lapwise.tui.screens.asking import choose
from lapwise.tui.screens.base import AreaScreen
from lapwise.tui.screens.entry import Entry
from lapwise.tui.screens.hand_over import Opener, take_open
from lapwise.tui.screens.long_work import long_work
from lapwise.tui.screens.sheet import para, point
from lapwise.tui.widgets.bar import Item
from lapwise.tui.work import beside

FAULTS_SHOWN = 40


class ReferenceFiles(AreaScreen):
    """The actions of the reference that change the person's own files."""

    def known_anew(self) -> None:
        """Let go of what was read of the knowledge, and show it as it is now."""

    def do_add(self) -> None:
        if self._of_sample():
            return
        about = "A guild's experience, or stones, laps and rules of your own: a file that ends in .yaml."
        take_open(self, "Add a knowledge file", about, self._offer)

    def _of_sample(self) -> bool:
        if self.workspace.sample:
            self.warn("The sample keeps no files. Go to your own bench first.")
        return self.workspace.sample

    @beside("files")
    async def _offer(self, opened: Opener, name: str) -> None:
        from lapwise.tui.present.offered import MORE, what_it_is  # start-up time

        def read(tell: Progress) -> tuple[Offered, list[str]]:
            where = self.workspace.where
            if self.app.is_web:
                with opened() as file:
                    offered = look_at_sent(file.read(), name, where)
            else:
                offered = look_at(Path(name), where)
            tell(0, None)
            return offered, list(what_it_is(offered, tell))

        try:
            offered, said = await long_work(self, "Looking the file over", lambda tell: self.workspace.do(read, tell))
        except (LapwiseError, OSError) as error:
            faults = error.problems[:FAULTS_SHOWN] if isinstance(error, LapwiseError) else [f"{name}: {error.strerror}"]
            self.read("No file was taken", [point(fault, "!") for fault in faults])
            return

        more = [] if offered.only_numbers else [para(MORE, style="bold $warning")]
        does = {Item("take", "y", "Take it"): partial(self._take, offered)}
        self.read(f"Take {offered.name}?", [*map(para, said), *more], does)

    @beside("files")
    async def _take(self, offered: Offered) -> None:
        _, aside = await self.controller.know(partial(take, offered, self.workspace.where))
        self.known_anew()
        before = f" The one you had is set aside: {aside}." if aside else ""
        self.say(f"Taken: {offered.name}. The advice uses it from now on.{before}")

    @beside("files")
    async def do_put_away(self) -> None:
        if self._of_sample():
            return
        found = await self.workspace.do(own_files, self.workspace.where)
        names = sorted({Path(str(file.path)).name for file in found})
        if not names:
            self.warn("There are no files of your own.")
            return
        choose(self.app, "Which file of your own?", [Entry(name, name) for name in names], self._sure)

    def _sure(self, name: str) -> None:
        text = "From then on the advice is as if it had never been there. The file is moved, not deleted."
        self.read(f"Stop using {name}?", [para(text)], {Item("away", "y", "Set aside"): partial(self._put_away, name)})

    @beside("files")
    async def _put_away(self, name: str) -> None:
        aside = await self.controller.know(partial(put_away, name, self.workspace.where))
        self.known_anew()
        self.say(f"Set aside: {aside}")
