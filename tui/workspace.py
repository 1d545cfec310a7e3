"""Everything the screens ask of the engine goes through one object, the bench.

Its calls are slow enough to be kept off the screen's own thread: :meth:`Workspace.do` runs them, one after the other.
"""

from __future__ import annotations

import asyncio
import contextlib
import gc
import io
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING, ParamSpec, TypeVar

from lapwise.engine.case import Case, FacetSetting
from lapwise.engine.errors import BadInput, Damaged, LapwiseError
from lapwise.engine.folders import Folders
from lapwise.tui.kept_cases import KeptCases, written_to
from lapwise.tui.open_case import OpenCase
from lapwise.tui.transfer_list import ListFile

if TYPE_CHECKING:
    from lapwise.engine.contact import Correction
    from lapwise.engine.diagnosis.model import Diagnosis, UnknownView
    from lapwise.engine.diagnosis.session import Session
    from lapwise.engine.knowledge.model import Knowledge
    from lapwise.engine.knowledge.show import Shown
    from lapwise.engine.learning.model import Chance
    from lapwise.engine.learning.tryout import Tryout
    from lapwise.engine.machine import MachineProfile
    from lapwise.engine.planning import WorkPlan
    from lapwise.engine.record.model import OwnLap
    from lapwise.engine.record.store import Record
    from lapwise.engine.words.heard import Hearing
    from lapwise.engine.words.lexicon import Lexicon

P = ParamSpec("P")
T = TypeVar("T")


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
        self.record: Record | None = None
        """None where nothing can be kept."""
        self._cases: KeptCases | None = None
        self.profile: MachineProfile | None = None
        """None if it was never stated."""
        self._thread = ThreadPoolExecutor(1, thread_name_prefix="bench")
        self._guess: Case | None = None
        self._filled = ""
        """The newest row of the sample as it was made."""
        self.facets = ListFile(where, self.words)
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
        if self.record is not None:
            with contextlib.suppress(RuntimeError):
                self._thread.submit(self.record.close)
        self._thread.shutdown(wait=True)

    def load(self) -> None:
        """Read what is known, open the record and the profile. Slow: not on the screen's thread.

        Faults in own files, a record that cannot be opened or a profile that cannot be read are said in ``words``;
        only shipped files that cannot be read raise :class:`LapwiseError`.
        """
        from lapwise.engine.knowledge.loader import load  # start-up time
        from lapwise.engine.machine import load_profile  # start-up time

        loaded = load(self.where)
        self.words += [f"Your own files: {problem}" for problem in loaded.problems]
        self.words += [f"{replaced.where}: {replaced.what}" for replaced in loaded.knowledge.replaced]
        self.record = self._open_record()
        try:
            self.profile = load_profile(self.where)
        except LapwiseError as error:
            self.words.append(str(error))
        self._know(loaded.knowledge, self.record)
        if self.sample and self.record is not None:
            from lapwise.tui.sample import newest_row  # start-up time

            self._filled = newest_row(self.record)
        self.ready = True

    def _know(self, knowledge: Knowledge, record: Record | None) -> None:
        from lapwise.engine.diagnosis.session import Session  # start-up time

        self._knowledge, self._lexicon = knowledge, None
        self._cases = KeptCases(self.record, knowledge)
        self._session = Session(knowledge, record=record, profile=self.profile)
        # what is known stays as long as the program: the collector need not walk through it again and again
        gc.freeze()

    def know_anew(self) -> None:
        """Read what is known again, after an own file came or went. The rule engine of before stays in memory."""
        from lapwise.engine.knowledge.loader import load  # start-up time

        self._know(load(self.where).knowledge, self.session.record)

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
    def session(self) -> Session:
        """What answers. Only once ``ready``."""
        assert self._session is not None
        return self._session

    def record_to_write(self) -> Record:
        """The record, to write to. Raises :class:`LapwiseError` where there is none."""
        return written_to(self.record)

    @property
    def cases(self) -> KeptCases:
        """The cases in the record. Only once ``ready``."""
        assert self._cases is not None
        return self._cases

    # --- answers ---------------------------------------------------------------------------------------------

    def quick(self, case: Case) -> Diagnosis:
        """The ranking at once. Raises ``BadInput`` on an unknown id."""
        return self._advice(lambda session: session.quick(case))

    def what_if(self, case: Case) -> Diagnosis:
        """The ranking if the case were so; the rule engine stays on the case at hand."""
        return self._advice(lambda session: session.what_if(case))

    def _advice(self, ask: Callable[[Session], Diagnosis]) -> Diagnosis:
        """A record that can no longer be read is left out, so that the advice goes on; ``trouble`` says so."""
        session = self.session
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
        return self.session.unknowns(case)

    def correct(self, facet: FacetSetting, prior: str | None) -> Correction:
        """Which way and how far to nudge. Raises :class:`LapwiseError` for a map that says nothing."""
        from lapwise.engine.contact import correct  # start-up time
        from lapwise.engine.diagnosis.calculators import damage_range  # start-up time

        damage = damage_range(Case(prior=prior), self.knowledge)
        return correct(facet, damage_um=damage, profile=self.profile)

    def entry(self, name: str) -> tuple[Shown, tuple[str, ...], tuple[tuple[str, Chance], ...]]:
        """What is known of an id, what record and guild say of it, and their chances."""
        from lapwise.engine.knowledge.show import show  # start-up time

        shown = show(self.knowledge, name)
        if self.record is None and not self.knowledge.experience:
            return shown, (), ()
        from lapwise.engine.learning.works import chance_rows, record_lines  # start-up time

        rows = chance_rows(self.record, self.knowledge, shown.id)
        said = record_lines(self.record, self.knowledge, shown.id, chances=False)
        return shown, tuple(said), tuple(rows)

    def plan(self, material: str, own: Iterable[OwnLap]) -> WorkPlan:
        """The work on a stone from cutting to polish with these laps. Raises ``BadInput`` for one not to be cut."""
        from lapwise.engine.planning import Owned, plan  # start-up time

        return plan(material, self.knowledge, tuple(Owned(lap.type, lap.carries) for lap in own))

    # --- from the sample to the own bench --------------------------------------------------------------------

    def own_work(self, at_hand: str | None) -> list[str]:
        """What the person entered into the sample, as the lines of an export; ``at_hand``: the id of the open case."""
        from lapwise.tui.sample import own_work  # start-up time

        return [] if self.record is None else own_work(self.record, self._filled, at_hand)

    def take_over(self, lines: Sequence[str]) -> None:
        """Take rows of the sample into this record as the person's own."""
        from lapwise.engine.record.exchange import import_lines  # start-up time

        import_lines(self.record_to_write(), io.StringIO("\n".join(lines)), mine=True)

    # --- the case at hand ------------------------------------------------------------------------------------

    def keep_clock(self, open_case: OpenCase, remedy: str | None, seconds: float) -> None:
        """Note on disk which remedy is being tried and for how long by now; None if none is."""
        from lapwise.tui.running import forget_running, keep_running  # start-up time

        if remedy is None:
            forget_running(self.where.data)
        elif self.record is not None and open_case.case_id is not None:
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
        from lapwise.engine.words.hear import hear  # start-up time
        from lapwise.engine.words.kept import kept_lexicon  # start-up time

        if self._lexicon is None:
            self._lexicon = kept_lexicon(self.knowledge, self.where.cache)
        return hear(text, self.knowledge, self._lexicon)

    def something_new(self, case: Case) -> Tryout | None:
        """A remedy to try for once, so that the record learns of it; None if there is nothing to offer."""
        return self.session.something_new(case)

    # --- the machine -----------------------------------------------------------------------------------------

    def keep_profile(self, profile: MachineProfile) -> None:
        """Put the profile on disk and use it from now on."""
        from lapwise.engine.machine import save_profile  # start-up time

        save_profile(self.where, profile)
        self.profile = profile
        if self._session is not None:
            self._session.profile = profile
