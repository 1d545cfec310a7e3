"""The cases in the record, as the screens take them up and write to them. Slow: not on the screen's thread."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Hashable
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from lapwise.engine.case import Case, Outcome
from lapwise.engine.errors import BadInput, Issue, LapwiseError
from lapwise.tui.open_case import OpenCase, ended, fresh, worth_keeping

if TYPE_CHECKING:
    from lapwise.engine.diagnosis.model import Diagnosis
    from lapwise.engine.knowledge.model import Knowledge
    from lapwise.engine.record.model import OwnLap
    from lapwise.engine.record.store import Record


def written_to(record: Record | None) -> Record:
    """The record, to write to. Raises :class:`LapwiseError` where there is none."""
    if record is None:
        raise LapwiseError("there is no record: nothing can be kept")
    return record


def kept_of(
    answer: Diagnosis, keep: Callable[..., dict[str, Any]], *done: str, record: Record, knowledge: Knowledge
) -> dict[str, Any]:
    """What is kept with a step: the answer as it stood before something was ``done``, and what was learned by then."""
    from lapwise.engine.learning import learned_of  # start-up time

    return keep(answer, *done, knowledge, learned_of(record, knowledge, answer.case))


class KeptCases:
    """Without a ``record`` nothing is kept, and a case goes on as it stands.

    Whatever writes to a case raises :class:`Overtaken`, and writes nothing, if the case went on in another window.
    """

    def __init__(self, record: Record | None, knowledge: Knowledge) -> None:
        self._record, self._knowledge = record, knowledge

    # --- read ------------------------------------------------------------------------------------------------

    def resume(self) -> OpenCase:
        """The newest case still open, else a new one with the machine as it was last time."""
        record = self._record
        if record is None:
            return OpenCase(Case())
        for kept in record.open_cases():
            if not self.unknown_ids(kept.case):
                return OpenCase(kept.case, kept.id, kept.steps, resumed=True)
        last = record.last_case()
        return OpenCase(self._known(OpenCase(last.case, steps=last.steps).following) if last is not None else Case())

    def take_up(self, case_id: str) -> OpenCase:
        """An open case of one's own to go on with. Raises :class:`BadInput` for any other."""
        kept = written_to(self._record).case(case_id)
        if not (kept.open and kept.yours):
            raise BadInput(Issue("this case is closed, or somebody else's: it cannot be continued", "case", case_id))
        if self.unknown_ids(kept.case):
            what = "this case speaks of something that is known no longer: bring your own files back first"
            raise BadInput(Issue(what, "case", case_id))
        return OpenCase(kept.case, kept.id, kept.steps)

    def unknown_ids(self, case: Case) -> bool:
        """True if the case speaks of something that is known no longer (own files taken away)."""
        from lapwise.engine.facts import check_case  # start-up time

        try:
            check_case(case.without_cures(), self._knowledge)
        except LapwiseError:
            return True
        return False

    def _known(self, case: Case) -> Case:
        """The machine's part of a case, without what is known no longer."""
        k = self._knowledge
        tables = {"material": k.materials, "lap": k.laps, "compound": k.compounds, "prior": k.compounds}
        gone: dict[str, Any] = {key: None for key, table in tables.items() if getattr(case, key) not in table}
        return replace(case, **gone)

    def reread(self, case_id: str) -> OpenCase:
        """The case as it stands on disk; a new one with the same machine if it was closed without being fixed."""
        kept = written_to(self._record).case(case_id)
        open_case = OpenCase(kept.case, kept.id, kept.steps)
        return open_case if kept.open or ended(kept.case) else OpenCase(fresh(kept.case))

    def written(self) -> Hashable:
        """Changes when another process has written to the record."""
        return None if self._record is None else self._record.state()[1]

    def lately(self) -> tuple[tuple[OwnLap, ...], tuple[str, ...]]:
        """Own laps, and what was seen in the newest cases, most often first."""
        if self._record is None:
            return (), ()
        seen = Counter(symptom for kept in self._record.cases(limit=10) for symptom in kept.case.symptoms)
        return tuple(self._record.laps()), tuple(symptom for symptom, _ in seen.most_common(4))

    # --- write -----------------------------------------------------------------------------------------------

    def _known_here(self, open_case: OpenCase) -> dict[str, Any]:
        """What every write says of where it was asked for: the newest row known, and the knowledge."""
        return {"newest": open_case.newest, "knowledge_digest": self._knowledge.digest}

    def keep(self, open_case: OpenCase) -> OpenCase:
        """Put the case as it now stands on disk; opens it in the record once it says something of a trouble."""
        record, case_id = self._record, open_case.case_id
        if record is None or (case_id is None and not worth_keeping(open_case.case)):
            return open_case
        if case_id is None:
            return self.reread(record.open_case(open_case.case, knowledge_digest=self._knowledge.digest))
        record.update_case(case_id, open_case.case, **self._known_here(open_case))
        return self.reread(case_id)

    def log(
        self, open_case: OpenCase, remedy: str, outcome: Outcome, minutes: float | None, shown: Diagnosis | None
    ) -> OpenCase:
        """Log an outcome; it is on disk when this returns. ``fixed`` closes the case."""
        case, record = open_case.case, self._record
        if record is None:
            return replace(open_case, case=case.with_tried(remedy, outcome))
        from lapwise.engine.diagnosis.shown import shown_for_try  # start-up time

        how, seen = self._known_here(open_case), self._seen(shown, shown_for_try, remedy, outcome)
        row = record.log_outcome(case, remedy, outcome, minutes=minutes, shown=seen, case_id=open_case.case_id, **how)
        return self.reread(record.case_of(row).id)

    def look(
        self, open_case: OpenCase, look: str, result: str, minutes: float | None, shown: Diagnosis | None
    ) -> OpenCase:
        """Log what a look showed; it is on disk when this returns."""
        case, record = open_case.case, self._record
        if record is None:
            return replace(open_case, case=case.with_saw(look, result))
        from lapwise.engine.diagnosis.shown import shown_for_look  # start-up time

        how, seen = self._known_here(open_case), self._seen(shown, shown_for_look, look, result)
        row = record.log_look(open_case.case_id, look, result, minutes=minutes, shown=seen, case=case, **how)
        return self.reread(record.case_of(row).id)

    def _seen(self, shown: Diagnosis | None, keep: Callable[..., dict[str, Any]], *done: str) -> dict[str, Any] | None:
        """What is kept of the answer as it was shown when something was ``done``."""
        if shown is None or self._record is None:
            return None
        return kept_of(shown, keep, *done, record=self._record, knowledge=self._knowledge)

    def undo(self, open_case: OpenCase) -> OpenCase:
        """Take ``open_case.last`` back by a new row; what was stated since stays stated."""
        last, case = open_case.last, open_case.case
        if self._record is None or open_case.case_id is None:
            undone = replace(case, tried=case.tried[:-1]) if case.tried else replace(case, saw=case.saw[:-1])
            return replace(open_case, case=undone)
        if last is not None:
            self._record.undo(open_case.case_id, last.id, case, **self._known_here(open_case))
        return self.reread(open_case.case_id)

    def amend(self, open_case: OpenCase, minutes: float | None, note: str) -> OpenCase:
        """Other minutes or another note for the last log: the old row is taken back and a new one written."""
        last, case_id = open_case.last, open_case.case_id
        if self._record is None or case_id is None or last is None:
            return open_case
        self._record.amend(case_id, last.id, minutes=minutes, note=note, **self._known_here(open_case))
        return self.reread(case_id)

    def end(self, open_case: OpenCase, result: str) -> OpenCase:
        """Close the case in the record (``polished``, ``accepted`` or ``given-up``), with what was stated last."""
        if self._record is not None:
            how = self._known_here(open_case)
            self._record.close_case(open_case.case_id, result, case=open_case.case, **how)
        return open_case
