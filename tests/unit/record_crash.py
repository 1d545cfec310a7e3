"""Kills a process that logs outcomes at random moments and counts what it had acknowledged and lost."""

from __future__ import annotations

import os
import random
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

from lapwise.engine.folders import folders
from lapwise.engine.record.care import check
from lapwise.engine.record.store import Record

CHILD = """
import sys
from lapwise.engine.case import Case
from lapwise.engine.folders import folders
from lapwise.engine.record.store import Record
record = Record.open(folders(sys.argv[1]))
shown = {"posterior": {"a": 0.5, "b": 0.5}, "fix": {"a": 0.9, "b": 0.1}}
case_id = None
n = 0
while True:
    n += 1
    outcome = "fixed" if n % 3 == 0 else "no-change"
    step = record.log_outcome(Case(material="topaz"), "clean-lap", outcome, minutes=1, shown=shown,
                              knowledge_digest="k", case_id=case_id)
    case_id = None if outcome == "fixed" else record.last_case().id
    sys.stdout.write(step + "\\n")
    sys.stdout.flush()
"""


@dataclass(frozen=True, slots=True)
class Report:
    """What came of the kills. ``unsound``: runs after which the check found a fault."""

    kills: int
    acknowledged: int
    lost: int
    unsound: int


def kill_at_random(folder: Path, kills: int, seed: int, longest: float = 0.12) -> Report:
    """``kills`` times: let a child log until it is killed (SIGKILL) at a random moment, then look for every id."""
    dice = random.Random(seed)
    acknowledged: set[str] = set()
    unsound = 0
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    for run in range(kills):
        child = subprocess.Popen([sys.executable, "-c", CHILD, str(folder)], stdout=subprocess.PIPE, env=environment)
        assert child.stdout is not None
        first = child.stdout.readline()
        time.sleep(dice.random() * longest)
        child.kill()
        rest = child.stdout.read()
        child.wait()
        # a line cut short by the kill was not acknowledged
        acknowledged |= {line for line in (first + rest).decode().split("\n")[:-1] if len(line) == 36}
        with Record.open(folders(folder), readonly=True) as record:
            if run % 10 == 9 or run == kills - 1:
                unsound += bool(check(record).faults)
    with Record.open(folders(folder), readonly=True) as record, record.reading() as connection:
        kept = {row[0] for row in connection.execute("SELECT id FROM steps")}
    return Report(kills, len(acknowledged), len(acknowledged - kept), unsound)
