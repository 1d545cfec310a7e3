"""Everything the screens ask of the engine goes through one object, the bench.

Its calls are slow enough to be kept off the screen's own thread: :meth:`Workspace.do` runs them, one after the other.
"""

from __future__ import annotations

import asyncio
import contextlib
import gc
import io
import os
import time
from collections.abc import Callable, Hashable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, ParamSpec, TypeVar

from lapwise.engine.case import Case, FacetSetting, Outcome
from lapwise.engine.errors import BadInput, Damaged, Issue, LapwiseError, Overtaken
from lapwise.engine.folders import Folders
from lapwise.tui.open_case import OpenCase, ended, fresh, worth_keeping

if TYPE_CHECKING:
    from lapwise.engine.contact import Correction
    from lapwise.engine.diagnosis.model import Diagnosis, UnknownView
    from lapwise.engine.diagnosis.session import Session
    from lapwise.engine.knowledge.model import Knowledge
    from lapwise.engine.knowledge.show import Shown
    from lapwise.engine.learning import Learned
    from lapwise.engine.learning.model import WhatWorks
    from lapwise.engine.learning.tryout import Tryout
    from lapwise.engine.machine import MachineProfile
    from lapwise.engine.record.model import CaseRecord, LapState, LapUse, OwnLap
    from lapwise.engine.record.store import Record
    from lapwise.engine.transfer import Fit
    from lapwise.engine.transfer import Row as FacetRow
    from lapwise.engine.transfer.kept import Kept
    from lapwise.engine.words import Hearing
    from lapwise.engine.words.lexicon import Lexicon

CASES_SHOWN = 200
"""Newest cases that the record's screen lists."""
P = ParamSpec("P")
T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Shop:
    """What the record says of a material on all laps, or on one. ``logged``: material to number of cases. ``laps``:
    own laps, those taken off the list too. ``place``: where it is kept."""

    works: WhatWorks
    card_text: str
    card_markdown: str
    cases: tuple[CaseRecord, ...]
    logged: Mapping[str, int]
    laps: tuple[OwnLap, ...]
    place: str


@dataclass(frozen=True, slots=True)
class LapView:
    """One own lap with what the record says of it."""

    lap: OwnLap
    state: LapState
    warnings: tuple[str, ...]
    ran: tuple[LapUse, ...]


class Workspace:
    """Knowledge, answers, record and profile of one user data folder. ``sample``: an invented bench of its own."""

    def __init__(self, where: Folders, *, sample: bool = False) -> None:
        self.where = where
        self.sample = sample
        self.ready = False
        self.words: list[str] = []
        """What the person should hear at the start: own files with faults, a record set aside."""
        self.trouble = ""
        """What went wrong with the record while the program ran, or nothing."""
        self._knowledge: Knowledge | None = None
        self._session: Session | None = None
        self._record: Record | None = None
        self._profile: MachineProfile | None = None
        self._thread = ThreadPoolExecutor(1, thread_name_prefix="bench")
        self._guess: Case | None = None
        self._filled = ""
        """The newest row of the sample as it was made."""
        self._list: Kept | None = None
        """The list of the transfer as it was last read or written here."""
        self._lexicon: Lexicon | None = None

    # --- its thread ------------------------------------------------------------------------------------------

    async def do(self, function: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T:
        """Run on the bench's own thread, one call after the other. Raises what ``function`` raises.

        Once the bench is closed nothing is done any more: who asks then is given up, as the program is on its way out.
        """
        self._guess = None
        loop = asyncio.get_running_loop()
        try:
            done = loop.run_in_executor(self._thread, lambda: function(*args, **kwargs))
        except RuntimeError:
            raise asyncio.CancelledError from None
        return await done

    def work_ahead(self, case: Case) -> None:
        """Rank a case that may be asked for next, if nothing else is to be done; only the newest guess is followed."""
        self._guess = case

        def work() -> None:
            if self._guess is case and self._session is not None:
                with contextlib.suppress(LapwiseError, OSError):
                    self._session.prepare(case)

        with contextlib.suppress(RuntimeError):
            self._thread.submit(work)

    # --- start and end ---------------------------------------------------------------------------------------

    def close(self) -> None:
        """Let go of the threads and the record. What was logged is on disk already."""
        with contextlib.suppress(RuntimeError):
            self._thread.submit(self._close_record)
        self._thread.shutdown(wait=True)

    def _close_record(self) -> None:
        if self._record is not None:
            self._record.close()

    def load(self) -> None:
        """Read what is known, open the record and the profile. Slow: not on the screen's thread.

        Faults in own files, a record that cannot be opened or a profile that cannot be read are said in ``words``;
        only shipped files that cannot be read raise :class:`LapwiseError`.
        """
        from lapwise.engine.diagnosis.session import Session  # start-up time
        from lapwise.engine.knowledge.loader import load  # start-up time
        from lapwise.engine.machine import load_profile  # start-up time

        loaded = load(self.where)
        self._knowledge = loaded.knowledge
        self.words += [f"Your own files: {problem}" for problem in loaded.problems]
        self.words += [f"{replaced.where}: {replaced.what}" for replaced in loaded.knowledge.replaced]
        self._record = self._open_record()
        try:
            self._profile = load_profile(self.where)
        except LapwiseError as error:
            self.words.append(str(error))
        self._session = Session(self._knowledge, record=self._record, profile=self._profile)
        if self.sample and self._record is not None:
            from lapwise.tui.sample import newest_row  # start-up time

            self._filled = newest_row(self._record)
        # what is known stays as long as the program: the collector need not walk through it again and again
        gc.freeze()
        self.ready = True

    def _open_record(self) -> Record | None:
        from lapwise.engine.record.store import Record  # start-up time

        try:
            record = Record.open(self.where)
        except (LapwiseError, OSError) as error:
            self.words.append(f"Nothing is being kept: {error}")
            return None
        if record.message:
            here = " On the screen: Record (4), then r." if "--restore" in record.message else ""
            self.words.append(record.message + here)
        return record

    @property
    def knowledge(self) -> Knowledge:
        """What is known. Only once ``ready``."""
        assert self._knowledge is not None
        return self._knowledge

    @property
    def record(self) -> Record | None:
        """The record, or None where nothing can be kept."""
        return self._record

    @property
    def profile(self) -> MachineProfile | None:
        """The machine profile, or None if it was never stated."""
        return self._profile

    # --- answers ---------------------------------------------------------------------------------------------

    def quick(self, case: Case) -> Diagnosis:
        """The ranking at once. Raises ``BadInput`` on an unknown id."""
        return self._advice(lambda session: session.quick(case))

    def what_if(self, case: Case) -> Diagnosis:
        """The ranking if the case were so; the rule engine stays on the case at hand."""
        return self._advice(lambda session: session.what_if(case))

    def _advice(self, ask: Callable[[Session], Diagnosis]) -> Diagnosis:
        """A record that can no longer be read is left out, so that the advice goes on; ``trouble`` says so."""
        session = self._session
        assert session is not None
        try:
            return ask(session)
        except BadInput:
            raise
        except (LapwiseError, OSError) as error:
            if session.record is None:
                raise
            self.trouble = f"Advice without your record: {error}"
            session.record = None
            return ask(session)

    def unknowns(self, case: Case) -> tuple[UnknownView, ...]:
        """What would help most to know, best first."""
        assert self._session is not None
        return self._session.unknowns(case)

    def correct(self, facet: FacetSetting, prior: str | None) -> Correction:
        """Which way and how far to nudge. Raises :class:`LapwiseError` for a map that says nothing."""
        from lapwise.engine.contact import correct  # start-up time
        from lapwise.engine.diagnosis.calculators import damage_range  # start-up time

        damage = damage_range(Case(prior=prior), self.knowledge)
        return correct(facet, damage_um=damage, profile=self._profile)

    def fit(self, rows: Sequence[FacetRow], gear: int) -> Fit:
        """How the stone sits. Raises :class:`LapwiseError` where the rows cannot tell."""
        from lapwise.engine.transfer import fit  # start-up time

        return fit(rows, gear)

    def entry(self, name: str) -> tuple[Shown, tuple[str, ...]]:
        """What is known of an id, and what the record says of it."""
        from lapwise.engine.knowledge.show import show  # start-up time

        shown = show(self.knowledge, name)
        if self._record is None and not self.knowledge.experience:
            return shown, ()
        from lapwise.engine.learning.works import record_lines  # start-up time

        return shown, tuple(record_lines(self._record, self.knowledge, shown.id))

    # --- the record and the laps -----------------------------------------------------------------------------

    def shop(self, material: str | None, own_lap: str | None = None) -> Shop:
        """What the record says of a material (None: of all) on an own lap (None: on all); the card is of the stone."""
        from lapwise.engine.learning import card as cards  # start-up time
        from lapwise.engine.learning.learner import members  # start-up time
        from lapwise.engine.learning.works import what_works  # start-up time

        record, knowledge = self.record_to_write(), self.knowledge
        logged: dict[str, int] = {}
        for kept in record.cases(limit=500):
            if kept.case.material:
                logged[kept.case.material] = logged.get(kept.case.material, 0) + 1
        card = cards.card(record, knowledge, material) if material is not None else None
        group = members(knowledge, material) if material is not None else None
        return Shop(
            works=what_works(record, knowledge, material, own_lap),
            card_text=cards.text(card) if card else "",
            card_markdown=cards.markdown(card) if card else "",
            cases=tuple(record.cases(group, limit=CASES_SHOWN, own_lap=own_lap)),
            logged=dict(sorted(logged.items(), key=lambda item: -item[1])),
            laps=tuple(record.laps(removed=True)),
            place="a folder that is gone at the end" if self.sample else str(self.where.record),
        )

    def record_to_write(self) -> Record:
        """The record, to write to. Raises :class:`LapwiseError` where there is none."""
        if self._record is None:
            raise LapwiseError("there is no record: nothing can be kept")
        return self._record

    def lap_views(self) -> tuple[LapView, ...]:
        """Own laps with their state, warnings and what ran on them."""
        if self._record is None:
            return ()
        record = self._record
        return tuple(
            LapView(
                lap,
                record.lap_state(lap.id, self.knowledge),
                record.lap_warnings(lap.id, self.knowledge),
                record.lap_uses(lap.id),
            )
            for lap in record.laps()
        )

    # --- from the sample to the own bench --------------------------------------------------------------------

    def own_work(self, at_hand: str | None) -> list[str]:
        """What the person entered into the sample, as the lines of an export; ``at_hand``: the id of the open case."""
        from lapwise.tui.sample import own_work  # start-up time

        return [] if self._record is None else own_work(self._record, self._filled, at_hand)

    def take_over(self, lines: Sequence[str]) -> None:
        """Take rows of the sample into this record as the person's own."""
        from lapwise.engine.record.exchange import import_lines  # start-up time

        import_lines(self.record_to_write(), io.StringIO("\n".join(lines)), mine=True)

    # --- the case at hand ------------------------------------------------------------------------------------

    def resume(self) -> OpenCase:
        """The newest case still open, else a new one with the machine as it was last time."""
        record = self._record
        if record is None:
            return OpenCase(Case())
        for kept in record.open_cases():
            if not self._unknown_ids(kept.case):
                return OpenCase(kept.case, kept.id, kept.steps, resumed=True)
        last = record.last_case()
        return OpenCase(self._known(fresh(last.case))) if last is not None else OpenCase(Case())

    def take_up(self, case_id: str) -> OpenCase:
        """An open case of one's own to go on with. Raises :class:`BadInput` for any other."""
        kept = self.record_to_write().case(case_id)
        if not (kept.open and kept.yours):
            raise BadInput(Issue("this case is closed, or somebody else's: it cannot be gone on with", "case", case_id))
        if self._unknown_ids(kept.case):
            what = "this case speaks of something that is known no longer: bring your own files back first"
            raise BadInput(Issue(what, "case", case_id))
        return OpenCase(kept.case, kept.id, kept.steps)

    def _unknown_ids(self, case: Case) -> bool:
        """True if the case speaks of something that is known no longer (own files taken away)."""
        from lapwise.engine.facts import check_case  # start-up time

        try:
            check_case(replace(case, tried=tuple(t for t in case.tried if t[1] != "fixed")), self.knowledge)
        except LapwiseError:
            return True
        return False

    def _known(self, case: Case) -> Case:
        """The machine's part of a case, without what is known no longer."""
        knowledge = self.knowledge
        return replace(
            case,
            material=case.material if case.material in knowledge.materials else None,
            lap=case.lap if case.lap in knowledge.laps else None,
            compound=case.compound if case.compound in knowledge.compounds else None,
            prior=case.prior if case.prior in knowledge.compounds else None,
        )

    def keep(self, open_case: OpenCase) -> OpenCase:
        """Put the case as it now stands on disk; opens it in the record once it says something of a trouble.

        This and the writes below raise :class:`Overtaken` if the case went on in another window.
        """
        record = self._record
        if record is None or (open_case.case_id is None and not worth_keeping(open_case.case)):
            return open_case
        if open_case.case_id is None:
            return self.reread(record.open_case(open_case.case, knowledge_digest=self.knowledge.digest))
        record.update_case(
            open_case.case_id, open_case.case, newest=open_case.newest, knowledge_digest=self.knowledge.digest
        )
        return self.reread(open_case.case_id)

    def reread(self, case_id: str) -> OpenCase:
        """The case as it stands on disk; a new one with the same machine if it was closed without being fixed."""
        kept = self.record_to_write().case(case_id)
        open_case = OpenCase(kept.case, kept.id, kept.steps)
        return open_case if kept.open or ended(kept.case) else OpenCase(fresh(kept.case))

    def _learned(self, case: Case) -> Learned | None:
        if self._record is None and not self.knowledge.experience:
            return None
        from lapwise.engine.learning import learned_of  # start-up time

        return learned_of(self._record, self.knowledge, case)

    def log(
        self, open_case: OpenCase, remedy: str, outcome: Outcome, minutes: float | None, shown: Diagnosis | None
    ) -> OpenCase:
        """Log an outcome; it is on disk when this returns. ``fixed`` closes the case."""
        if self._record is None:
            return replace(open_case, case=open_case.case.with_tried(remedy, outcome))
        from lapwise.engine.diagnosis.shown import shown_for_try  # start-up time

        seen = None
        if shown is not None:
            seen = shown_for_try(shown, remedy, outcome, self.knowledge, self._learned(shown.case))
        row = self._record.log_outcome(
            open_case.case,
            remedy,
            outcome,
            minutes=minutes,
            shown=seen,
            knowledge_digest=self.knowledge.digest,
            case_id=open_case.case_id,
            newest=open_case.newest,
        )
        return self.reread(self._record.case_of(row).id)

    def look(
        self, open_case: OpenCase, look: str, result: str, minutes: float | None, shown: Diagnosis | None
    ) -> OpenCase:
        """Log what a look showed; it is on disk when this returns."""
        if self._record is None:
            return replace(open_case, case=open_case.case.with_saw(look, result))
        from lapwise.engine.diagnosis.shown import shown_for_look  # start-up time

        seen = None
        if shown is not None:
            seen = shown_for_look(shown, look, result, self.knowledge, self._learned(shown.case))
        row = self._record.log_look(
            open_case.case_id,
            look,
            result,
            minutes=minutes,
            shown=seen,
            knowledge_digest=self.knowledge.digest,
            case=open_case.case,
            newest=open_case.newest,
        )
        return self.reread(self._record.case_of(row).id)

    def undo(self, open_case: OpenCase) -> OpenCase:
        """Take ``open_case.last`` back by a new row; what was stated since stays stated."""
        last, case = open_case.last, open_case.case
        if self._record is None or open_case.case_id is None:
            undone = replace(case, tried=case.tried[:-1]) if case.tried else replace(case, saw=case.saw[:-1])
            return replace(open_case, case=undone)
        if last is not None:
            self._record.undo(
                open_case.case_id, last.id, case, newest=open_case.newest, knowledge_digest=self.knowledge.digest
            )
        return self.reread(open_case.case_id)

    def amend(self, open_case: OpenCase, minutes: float | None, note: str) -> OpenCase:
        """Other minutes or another note for the last log: the old row is taken back and a new one written."""
        last = open_case.last
        if self._record is None or open_case.case_id is None or last is None:
            return open_case
        self._record.amend(
            open_case.case_id,
            last.id,
            minutes=minutes,
            note=note,
            newest=open_case.newest,
            knowledge_digest=self.knowledge.digest,
        )
        return self.reread(open_case.case_id)

    def end(self, open_case: OpenCase, result: str) -> OpenCase:
        """Close the case in the record (``polished``, ``accepted`` or ``given-up``), with what was stated last."""
        if self._record is not None:
            self._record.close_case(
                open_case.case_id,
                result,
                case=open_case.case,
                newest=open_case.newest,
                knowledge_digest=self.knowledge.digest,
            )
        return open_case

    def keep_clock(self, open_case: OpenCase, remedy: str | None, seconds: float) -> None:
        """Note on disk which remedy is being tried and for how long by now; None if none is."""
        from lapwise.tui.running import forget_running, keep_running  # start-up time

        if remedy is None:
            forget_running(self.where.data)
        elif self._record is not None and open_case.case_id is not None:
            keep_running(self.where.data, open_case.case_id, remedy, seconds)

    def clock_of(self, open_case: OpenCase) -> tuple[str, float] | None:
        """(remedy, seconds) of the try that was running when the program ended, if it was of this case."""
        from lapwise.tui.running import read_running  # start-up time

        try:
            return read_running(self.where.data, open_case.case_id) if open_case.case_id is not None else None
        except Damaged as error:
            self.words.append(str(error))
            return None

    def hear(self, text: str) -> Hearing:
        """What is understood of a person's own words."""
        from lapwise.engine.words import hear, kept_lexicon  # start-up time

        if self._lexicon is None:
            self._lexicon = kept_lexicon(self.knowledge, self.where.cache)
        return hear(text, self.knowledge, self._lexicon)

    def something_new(self, case: Case) -> Tryout | None:
        """A remedy to try for once, so that the record learns of it; None if there is nothing to offer."""
        assert self._session is not None
        return self._session.something_new(case)

    def written(self) -> Hashable:
        """Changes when another process has written to the record."""
        return None if self._record is None else self._record.state()[1]

    def lately(self) -> tuple[tuple[OwnLap, ...], tuple[str, ...]]:
        """Own laps, and what was seen in the newest cases, most often first."""
        if self._record is None:
            return (), ()
        count: dict[str, int] = {}
        for kept in self._record.cases(limit=10):
            for symptom in kept.case.symptoms:
                count[symptom] = count.get(symptom, 0) + 1
        often = sorted(count, key=lambda s: -count[s])
        return tuple(self._record.laps()), tuple(often[:4])

    # --- the transfer ----------------------------------------------------------------------------------------

    def transfer_list(self) -> Kept:
        """The list of the transfer as it was left. One that cannot be read is set aside, which is said in ``words``."""
        from lapwise.engine.transfer.kept import list_path, read_list  # start-up time

        try:
            self._list = read_list(self.where)
        except Damaged as error:
            file = list_path(self.where)
            aside = file.with_name(f"{file.stem}-{time.strftime('%Y%m%d-%H%M%S')}.damaged")
            os.replace(file, aside)
            self.words.append(f"{error} It was set aside as {aside.name}.")
            self._list = ((), None)
        return self._list

    def transfer_elsewhere(self) -> Kept | None:
        """The list, if another window or command has changed it; None if it is as it was here."""
        known = self._list
        found = self.transfer_list()
        return None if found == known else found

    def keep_transfer(self, kept: Kept) -> None:
        """Put the list on disk. Raises :class:`Overtaken`, and writes nothing, if it was changed elsewhere."""
        from lapwise.engine.transfer.kept import keep_list  # start-up time

        if self.transfer_elsewhere() is not None:
            raise Overtaken(Issue("the list was changed in another window: here it is as it is there; u: yours again"))
        keep_list(self.where, *kept)
        self._list = kept

    # --- the machine -----------------------------------------------------------------------------------------

    def keep_profile(self, profile: MachineProfile) -> None:
        """Put the profile on disk and use it from now on."""
        from lapwise.engine.machine import save_profile  # start-up time

        save_profile(self.where, profile)
        self._profile = profile
        if self._session is not None:
            self._session.profile = profile
