"""A state machine over the record: whatever is done in whatever order, a plain model in memory agrees with it."""

from __future__ import annotations

import io
import shutil
import tempfile
from pathlib import Path

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import Bundle, RuleBasedStateMachine, consumes, initialize, invariant, precondition, rule
from tests.unit.record_kit import case, shown, where

from lapwise.engine.case import OUTCOMES
from lapwise.engine.errors import NothingFound
from lapwise.engine.record import care
from lapwise.engine.record.exchange import export_lines, import_lines
from lapwise.engine.record.store import Record


class Log:
    """What a case should be: a list of what was done; taking back removes the last."""

    def __init__(self) -> None:
        self.done: list[tuple[str, ...]] = []
        self.gone = False


class RecordMachine(RuleBasedStateMachine):
    cases = Bundle("cases")

    @initialize()
    def begin(self) -> None:
        self.path = Path(tempfile.mkdtemp())
        self.record = Record.open(where(self.path))
        self.model: dict[str, Log] = {}
        self.copies = 0

    @rule(target=cases)
    def open_case(self) -> str:
        case_id = self.record.open_case(case())
        self.model[case_id] = Log()
        return case_id

    @rule(case_id=cases, outcome=st.sampled_from(OUTCOMES), share=st.floats(0, 1), with_shown=st.booleans())
    def log_try(self, case_id: str, outcome: str, share: float, with_shown: bool) -> None:
        self.record.log_outcome(
            case(),
            "clean-lap",
            outcome,
            minutes=3,
            knowledge_digest="k",
            case_id=case_id,
            shown=shown(share, 0.4, 0.9) if with_shown else None,
        )
        self.model[case_id].done.append(("try", outcome))

    @rule(case_id=cases)
    def look(self, case_id: str) -> None:
        self.record.log_look(case_id, "loupe-check", "dotted")
        self.model[case_id].done.append(("look", "dotted"))

    @rule(case_id=cases, result=st.sampled_from(["given-up", "accepted", "polished"]))
    def close_case(self, case_id: str, result: str) -> None:
        self.record.close_case(case_id, result)
        self.model[case_id].done.append(("close", result))

    @rule(case_id=cases)
    def undo(self, case_id: str) -> None:
        log = self.model[case_id]
        if log.done:
            self.record.undo_last(case_id)
            log.done.pop()
        elif not log.gone:
            self.record.undo_last(case_id)
            log.gone = True
        else:
            try:
                self.record.undo_last(case_id)
            except NothingFound:
                return
            raise AssertionError("took back something of nothing")

    @rule()
    def reopen(self) -> None:
        self.record.close()
        self.record = Record.open(where(self.path))

    @rule()
    def forget_and_remember(self) -> None:
        care.forget(self.record)
        care.remember(self.record)

    @precondition(lambda self: self.model)
    @rule()
    def move_to_another_machine(self) -> None:
        lines = "\n".join(export_lines(self.record)) + "\n"
        self.copies += 1
        fresh = Record.open(where(self.path / f"copy{self.copies}"))
        import_lines(fresh, io.StringIO(lines))
        assert "\n".join(export_lines(fresh)) + "\n" == lines
        self.record.close()
        fresh.close()
        shutil.rmtree(where(self.path).data)
        shutil.move(where(self.path / f"copy{self.copies}").data, where(self.path).data)
        self.record = Record.open(where(self.path))

    @rule(case_id=consumes(cases))
    def leave_alone(self, case_id: str) -> None:
        """A case nobody touches any more must stay as it is."""

    @invariant()
    def agrees(self) -> None:
        if not hasattr(self, "record"):
            return
        for case_id, log in self.model.items():
            found = self.record.case(case_id)
            tried = [done[1] for done in log.done if done[0] == "try"]
            assert [outcome for _, outcome in found.case.tried] == tried
            assert len(found.case.saw) == sum(done[0] == "look" for done in log.done)
            last = log.done[-1] if log.done else None
            ended = last is not None and (last[0] == "close" or last == ("try", "fixed"))
            assert found.open == (not ended and not log.gone)
            assert found.withdrawn == log.gone
        listed = {c.id for c in self.record.cases(limit=1000)}
        assert listed == {case_id for case_id, log in self.model.items() if not log.gone}

    def teardown(self) -> None:
        if hasattr(self, "record"):
            assert not care.check(self.record).faults
            self.record.close()
            shutil.rmtree(self.path)


TestRecordMachine = RecordMachine.TestCase
TestRecordMachine.settings = settings(max_examples=10, stateful_step_count=25, deadline=None)
