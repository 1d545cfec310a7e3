"""The bench as the areas watch it: the case at hand, and the record, own laps, machine and transfer beside it."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Any, TypeVar

from lapwise.engine.case import Case
from lapwise.engine.errors import LapwiseError, Overtaken
from lapwise.engine.wording import listing
from lapwise.tui.case_at_hand import CaseAtHand, Front
from lapwise.tui.open_case import Hand, ended
from lapwise.tui.transfer_list import TransferList

if TYPE_CHECKING:
    from lapwise.engine.machine import MachineProfile
    from lapwise.engine.transfer import Row
    from lapwise.engine.transfer.kept import Kept
    from lapwise.tui.workspace import Workspace

T = TypeVar("T")


class Controller(CaseAtHand):
    """The owner of the open case and of what lies beside it; parameters as :class:`CaseAtHand`."""

    def __init__(self, workspace: Workspace, front: Front) -> None:
        super().__init__(workspace, front)
        self.transfer = TransferList()
        self._written: Hashable = None

    # --- start and end ---------------------------------------------------------------------------------------

    async def begin(self) -> None:
        """Read what is known and take up the case still open. Only shipped files that cannot be read raise."""
        workspace = self.workspace
        if not workspace.ready:
            await workspace.do(workspace.load)
        try:
            open_case = await workspace.do(workspace.cases.resume)
            self._hand = Hand(open_case, kept=open_case.case_id is not None)
            running = await workspace.do(workspace.clock_of, open_case)
            if running is not None:
                self.time_try(*running)
            await self.look_back()
            self._written = await workspace.do(workspace.cases.written)
        except (LapwiseError, OSError) as error:
            workspace.words.append(f"Your record cannot be read: {error}")
        try:
            self.transfer = TransferList(await workspace.do(workspace.facets.read))
        except OSError as error:
            workspace.words.append(f"The list of the transfer cannot be read: {error}")
        self._changed()

    async def close(self) -> None:
        """Put on disk what is not there yet, and let go of the workspace."""
        async with self._writing:
            pass  # what is on its way there
        if self.workspace.ready and self.open_case is not self._hand.kept:
            with contextlib.suppress(LapwiseError, OSError):
                await self._write(self._hand, self.workspace.cases.keep)
        with contextlib.suppress(LapwiseError, OSError):
            await self._keep_list()
        self.workspace.close()

    # --- the record beside the case --------------------------------------------------------------------------

    async def change(self, work: Callable[[], T]) -> T:
        """Change own laps or the like, or take in many rows; answers with what ``work`` does."""
        self._enter("laps")
        done = await self.workspace.do(work)
        await self.look_back()
        self._changed(anew=True)
        return done

    async def know(self, change: Callable[[], T]) -> T:
        """Add or set aside an own knowledge file and know anew; answers with what ``change`` does.

        A case that speaks of what is known no longer stays as it is in the record, and another is at hand.
        """
        await self.keep()
        workspace = self.workspace
        done = await workspace.do(change)
        await workspace.do(workspace.know_anew)
        if await workspace.do(workspace.cases.unknown_ids, self.case):
            after = await workspace.do(workspace.cases.resume)
            self._hand = Hand(after, kept=after.case_id is not None)
            self.time_try(None)
        await self.look_back()
        self._changed(anew=True)
        return done

    async def take_up(self, case_id: str) -> None:
        """Go on with another case of one's own that is still open; the one at hand stays open as it is."""
        await self.keep()
        after = await self.workspace.do(self.workspace.cases.take_up, case_id)
        self._hand = Hand(after, kept=True)
        self.time_try(None)
        self._changed(anew=True)

    async def keep_profile(self, profile: MachineProfile) -> None:
        """Put the machine profile on disk and use it from now on."""
        if profile != self.workspace.profile:
            self._enter("machine")
        await self.workspace.do(self.workspace.keep_profile, profile)
        self._changed(anew=True)

    def corrected_by(self) -> tuple[str, ...]:
        """The remedies by which the facet came bright all over, as its newest map shows; none where it does not.

        That being tried first, then the turn, where the stone was turned.
        """
        case = self.case
        last = case.facet.trials[-1] if case.facet.trials else None
        if last is None or last.ink or "D" in last.map or not (last.turn or last.angle) or ended(case):
            return ()
        try:
            if not self.workspace.correct(case.facet, case.prior).done:
                return ()
        except LapwiseError:  # a map that says nothing
            return ()
        ways = [name for name, by in (("adjust-fine-index", last.turn), ("adjust-angle", last.angle)) if by]
        return tuple(sorted(ways, key=lambda name: name != self.trying))

    def told_of_machine(self, **facts: Any) -> None:
        """Keep what was told of the machine elsewhere than on its own area, where nothing was known of it."""
        if any(facts.values()):
            self._front.start(partial(self._told_of_machine, facts), group="profile", failed="Not kept")

    async def _told_of_machine(self, facts: Mapping[str, Any]) -> None:
        from lapwise.engine.machine import MachineProfile  # start-up time

        known = self.workspace.profile or MachineProfile()
        new = {name: value for name, value in facts.items() if value and getattr(known, name) is None}
        if new:
            await self.keep_profile(replace(known, **new))

    def with_own_lap(self, lap_id: str) -> Case:
        """The case with one of the own laps on the machine, and the compound it carries if that is one."""
        lap = next((own for own in self.own_laps if own.id == lap_id), None)
        if lap is None:
            return self.case
        compound = lap.compound or self.case.compound
        if lap.carries and compound not in lap.carries:
            compound = None  # it carries several: which of them is on it now must be said
        return replace(self.case, lap=lap.type, own_lap=lap.id, compound=compound)

    def own_lap_name(self, lap_id: str | None) -> str | None:
        """What the person calls this lap."""
        return next((lap.name for lap in self.own_laps if lap.id == lap_id), None)

    # --- from the sample -------------------------------------------------------------------------------------

    async def take_over(self, sample: Controller) -> str:
        """Take what was entered at the sample into this bench; its case is then the one at hand. Says what stayed."""
        theirs = sample.workspace
        await sample.keep()
        rows = await theirs.do(theirs.own_work, sample.open_case.case_id)
        if rows:
            await self.workspace.do(self.workspace.take_over, rows)
        await self.begin()
        if self.open_case.case_id is None and sample.open_case.case_id is None:
            self.state(replace(sample.case, own_lap=None))
        stayed = []
        if "machine" in sample.entered and theirs.profile is not None:
            if self.workspace.profile is None or self.workspace.profile.is_empty:
                await self.keep_profile(theirs.profile)
            else:
                stayed.append("your own machine")
        if "transfer" in sample.entered:
            if self.transfer.rows:
                stayed.append("your own transfer list")
            else:
                self.list_facets(*sample.transfer.kept)
        sample.entered.clear()
        return (
            f"Copied to your own bench. Left as it was: {listing(stayed)}." if stayed else "Copied to your own bench."
        )

    # --- the transfer ----------------------------------------------------------------------------------------

    def list_facets(self, rows: Sequence[Row], gear: int | None) -> None:
        """Another list of the transfer; it goes to the disk at once."""
        self.transfer.put(rows, gear)
        self._list_changed()
        self._enter("transfer")

    def unlist_facets(self) -> bool:
        """The list of the transfer as it was before the last change; False if there was none."""
        undone = self.transfer.undo()
        if undone:
            self._list_changed()
        return undone

    def _list_changed(self) -> None:
        self._front.start(self._keep_list, group="transfer", failed="Not kept")
        self._tell()

    async def _keep_list(self) -> None:
        kept, file = self.transfer.kept, self.workspace.facets
        if self.transfer.own and kept != file.known:
            try:
                await self.workspace.do(file.keep, kept)
            except Overtaken:
                self._take_list(await self.workspace.do(file.read))
                raise

    def _take_list(self, theirs: Kept) -> None:
        self.transfer.put(*theirs)
        self._tell()

    async def look_round(self) -> None:
        """Take up what another window or command has written to the record."""
        workspace = self.workspace
        if not workspace.ready or self._writing.locked():
            return
        theirs = await workspace.do(workspace.facets.elsewhere)
        if theirs is not None:
            self._take_list(theirs)
        written = await workspace.do(workspace.cases.written)
        if written == self._written:
            return
        self._written = written
        await self.look_back()
        async with self._writing:
            hand = self._hand
            before = hand.kept
            if before is not None and before.case_id is not None:
                after = await workspace.do(workspace.cases.reread, before.case_id)
                if after.newest != before.newest:
                    self._settle(hand, before.case, after)
        self._changed(anew=True)
