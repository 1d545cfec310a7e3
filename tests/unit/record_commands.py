"""A state machine over the commands that keep a record: whatever comes in whatever order, a plain list agrees.

Log, undo, amend, close, export, import, backup, restore, processes killed while they log, a full disk, a clock that
jumps, a file emptied, deleted or spoilt. What was shown as logged must be there after every step.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from unittest import mock

from hypothesis import strategies as st
from hypothesis.stateful import Bundle, RuleBasedStateMachine, initialize, invariant, rule
from tests.unit.record_kit import knowledge, shown, where

from lapwise.engine.case import OUTCOMES
from lapwise.engine.record import care
from lapwise.engine.record.backup import backups_in
from lapwise.engine.record.file import backup_folder
from lapwise.engine.record.store import Record
from lapwise.tui.cli.main import main

DAY_NS = 86_400 * 10**9
CHILD = """
import resource, signal, sys
from lapwise.engine.case import Case
from lapwise.engine.errors import LapwiseError
from lapwise.engine.folders import folders
from lapwise.engine.record.store import Record
import time
real, ahead, room = time.time_ns, int(sys.argv[2]), int(sys.argv[3])
time.time_ns = lambda: real() + ahead
record = Record.open(folders(sys.argv[1]))
if room:
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (room, room))
try:
    while True:
        new = record.log_outcome(Case(material="topaz"), "clean-lap", "fixed", minutes=1, knowledge_digest="k",
                                 note="x" * (2000 if room else 10))
        sys.stdout.write(new + "\\n")
        sys.stdout.flush()
except LapwiseError as error:
    assert "nothing was logged" in str(error), error
import os; os._exit(0)
"""
FACTS = ("--lap", "tin-lap", "--compound", "aluminium-oxide", "--symptom", "haze")


class Log:
    """What a case should be: a list of what was done; taking back removes the last."""

    def __init__(self) -> None:
        self.done: list[tuple[str, str]] = []
        self.gone = False

    @property
    def open(self) -> bool:
        last = self.done[-1] if self.done else ("", "")
        return not self.gone and last[0] != "close" and last != ("try", "fixed")


class CommandMachine(RuleBasedStateMachine):
    cases = Bundle("cases")

    @initialize()
    def begin(self) -> None:
        self.path = Path(tempfile.mkdtemp(prefix="record-commands-"))
        self.model: dict[str, Log] = {}
        self.shown: set[str] = set()
        self.ahead = 0
        self.files = 0
        self.stack = contextlib.ExitStack()
        real, known = time.time_ns, knowledge()
        for name, value in (
            ("time.time_ns", lambda: real() + self.ahead),
            ("lapwise.tui.cli.opening.open_knowledge", lambda _: known),
            ("lapwise.tui.cli.log.Logged._shown", lambda *_, **__: shown(0.5, 0.4, 0.9)),
        ):
            self.stack.enter_context(mock.patch(name, value))

    def run(self, *argv: object, bench: str = "") -> tuple[int, str, str]:
        """A command in this process: (exit code, stdout, stderr)."""
        out, err = (io.TextIOWrapper(io.BytesIO(), encoding="utf-8") for _ in range(2))
        data = str(where(self.path / bench).data)
        code: object = None
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            try:
                main([*map(str, argv), "--data", data])
            except SystemExit as stop:
                code = stop.code
        texts = []
        for stream in (out, err):
            stream.flush()
            texts.append(stream.buffer.getvalue().decode())  # type: ignore[attr-defined]
        assert "Traceback" not in texts[1], texts[1]
        return (code if isinstance(code, int) else 1, texts[0], texts[1])

    def logged(self, out: str) -> str:
        """Take note of what a command said is on disk; the case it belongs to."""
        found = json.loads(out)
        if found["id"] != found["case"]:
            self.shown.add(found["id"])
        self.model.setdefault(found["case"], Log())
        return str(found["case"])

    @rule(target=cases, material=st.sampled_from(["topaz", "emerald"]), outcome=st.sampled_from(OUTCOMES))
    def log_line(self, material: str, outcome: str) -> str:
        options = ("--remedy", "clean-lap", "--outcome", outcome, "--json")
        code, out, err = self.run("log", "--material", material, *FACTS, *options)
        assert code == 0, err
        case_id = self.logged(out)
        assert self.model[case_id].open
        self.model[case_id].done.append(("try", outcome))
        return case_id

    @rule(target=cases)
    def log_open(self) -> str:
        code, out, err = self.run("log", "open", "--material", "topaz", *FACTS, "--json")
        assert code == 0, err
        return self.logged(out)

    @rule(case_id=cases, outcome=st.sampled_from(OUTCOMES))
    def log_try(self, case_id: str, outcome: str) -> None:
        code, out, err = self.run("log", "try", case_id, "--remedy", "clean-lap", "--outcome", outcome, "--json")
        assert (code == 0) == self.model[case_id].open, err
        if code == 0:
            self.logged(out)
            self.model[case_id].done.append(("try", outcome))

    @rule(case_id=cases)
    def close_case(self, case_id: str) -> None:
        code, out, err = self.run("log", "close", case_id, "--result", "accepted", "--json")
        assert (code == 0) == self.model[case_id].open, err
        if code == 0:
            self.logged(out)
            self.model[case_id].done.append(("close", "accepted"))

    @rule(case_id=cases)
    def undo(self, case_id: str) -> None:
        log = self.model[case_id]
        code, _, err = self.run("log", "undo", case_id)
        assert (code == 0) == (not log.gone), err
        if log.done:
            log.done.pop()
        else:
            log.gone = True

    @rule(case_id=cases, minutes=st.integers(0, 90))
    def amend(self, case_id: str, minutes: int) -> None:
        if self.model[case_id].done and self.model[case_id].done[-1][0] == "try":
            with Record.open(where(self.path)) as record:
                last = next(s for s in reversed(record.steps(case_id)) if s.kind == "try" and not s.withdrawn)
                new = record.amend(case_id, last.id, minutes=minutes, note="amended", knowledge_digest="k")
                self.shown.add(new)

    @rule()
    def to_another_bench_and_back(self) -> None:
        self.files += 1
        mine, theirs = (self.path / f"{name}{self.files}.jsonl" for name in ("mine", "theirs"))
        assert self.run("record", "export", mine)[0] == 0
        assert self.run("record", "import", mine, bench="other")[0] in (0, 1)
        assert self.run("log", "good", "--material", "topaz", *FACTS[:4], bench="other")[0] == 0
        assert self.run("record", "export", theirs, bench="other")[0] == 0
        assert self.run("record", "import", theirs)[0] in (0, 1)
        assert self.run("record", "export", mine)[0] == 2  # never written over

    def harm(self, path: Path, how: str) -> None:
        """The record file is emptied, deleted or spoilt (or nothing); the check notices what is gone."""
        if how == "emptied":
            os.truncate(path, 0)
        elif how == "deleted":
            path.unlink()
        elif how == "spoilt":
            with path.open("r+b") as file:
                file.write(b"not a database!!")
        if how in ("emptied", "deleted"):
            assert self.run("record", "check")[0] == 3

    @rule(how=st.sampled_from(["emptied", "deleted", "spoilt", "none"]))
    def backup_and_restore(self, how: str) -> None:
        path = where(self.path).record
        if not path.exists():
            return
        code, out, err = self.run("record", "backup")
        assert code == 0, err
        self.harm(path, how)
        code, _, err = self.run("record", "backup", "--restore", out.strip())
        assert code == 0, err

    @rule(milliseconds=st.integers(0, 120))
    def killed(self, milliseconds: int) -> None:
        child = self.child(0)
        assert child.stdout is not None
        first = child.stdout.readline()
        time.sleep(milliseconds / 1000)
        child.kill()
        self.said(first + child.stdout.read())
        child.wait()

    @rule(pages=st.integers(1, 12))
    def disk_full(self, pages: int) -> None:
        path = where(self.path).record
        if path.exists():
            child = self.child(path.stat().st_size + 4096 * pages)
            self.said(child.communicate()[0])
            assert child.returncode == 0

    def child(self, room: int) -> subprocess.Popen[bytes]:
        environment = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
        return subprocess.Popen(
            [sys.executable, "-c", CHILD, str(where(self.path).data), str(self.ahead), str(room)],
            stdout=subprocess.PIPE,
            env=environment,
        )

    def said(self, text: bytes) -> None:
        self.shown |= {line for line in text.decode().split("\n")[:-1] if len(line) == 36}

    @rule(days=st.sampled_from([-36_500, -3_650, -2, 0, 0, 1, 30, 3_650]))
    def clock_jumps(self, days: int) -> None:
        """The clock is set, as by a person: so many days off the right time."""
        self.ahead = max(days * DAY_NS, DAY_NS - time.time_ns() + self.ahead)

    @invariant()
    def agrees(self) -> None:
        if not hasattr(self, "path"):
            return
        with Record.open(where(self.path), readonly=True) as record, record.reading() as connection:
            kept = {row[0] for row in connection.execute("SELECT id FROM steps")}
            assert self.shown <= kept, self.shown - kept
            for case_id, log in self.model.items():
                found = record.case(case_id)
                assert [outcome for _, outcome in found.case.tried] == [o for kind, o in log.done if kind == "try"]
                assert (found.open, found.withdrawn) == (log.open, log.gone)
                assert found.yours

    def teardown(self) -> None:
        if hasattr(self, "path"):
            self.stack.close()
            with Record.open(where(self.path)) as record:
                found = care.check(record)
                assert found.sound, found
            leftovers = list(where(self.path).data.rglob("*.part*"))
            assert not [p for p in leftovers if p.parent != backup_folder(where(self.path))], leftovers
            assert all(p.exists() for p in backups_in(backup_folder(where(self.path))))
            shutil.rmtree(self.path)
