"""The try whose clock runs, kept beside the record, so that it goes on after the program was cut off."""

from __future__ import annotations

import contextlib
import json
import os
import time
from pathlib import Path

from lapwise.engine.errors import Damaged, Issue
from lapwise.engine.newfile import read_json

RUNNING_FILE = "trying.json"
MOST_BYTES = 10_000
LONGEST_SECONDS = 4 * 3600.0
"""A try that began longer ago than this was left, not worked on: its clock is not taken up again. Judgement."""


def keep_running(folder: Path, case_id: str, remedy: str, seconds: float) -> None:
    """Note that ``remedy`` of this case has been tried for ``seconds``. A folder that cannot be written is let be."""
    note = {"case": case_id, "remedy": remedy, "began": time.time() - seconds}
    with contextlib.suppress(OSError):
        new = folder / (RUNNING_FILE + ".new")
        new.write_text(json.dumps(note) + "\n", encoding="utf-8")
        os.replace(new, folder / RUNNING_FILE)


def forget_running(folder: Path) -> None:
    """Nothing is being tried any more."""
    with contextlib.suppress(OSError):
        (folder / RUNNING_FILE).unlink(missing_ok=True)


def read_running(folder: Path, case_id: str) -> tuple[str, float] | None:
    """(remedy, seconds since it began) of this case; None if nothing runs, or for longer than anybody polishes.

    Raises :class:`Damaged` for a file that cannot be read.
    """
    file = folder / RUNNING_FILE
    try:
        note = read_json(file, MOST_BYTES)
        remedy, seconds = str(note["remedy"]), time.time() - float(note["began"])
        same = note["case"] == case_id
    except FileNotFoundError:
        return None
    except (OSError, ValueError, TypeError, KeyError, OverflowError):
        raise Damaged(Issue("cannot be read: a try that was running has lost its clock", str(file))) from None
    # a clock set back in between leaves a try that has only just begun
    return (remedy, max(0.0, seconds)) if same and seconds <= LONGEST_SECONDS else None
