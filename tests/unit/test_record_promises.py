"""Clock, owners, laps of one name, files that are whole or not there, text: what the page on promises says."""

from __future__ import annotations

import csv
import io
import json
import os
import re
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from importlib.resources import files
from pathlib import Path

import pytest
from tests.unit.record_kit import case, where

from lapwise.engine.errors import BadInput
from lapwise.engine.newfile import new_file
from lapwise.engine.record import care, ids
from lapwise.engine.record.exchange import export_lines, import_lines, write_lines
from lapwise.engine.record.model import OwnLap
from lapwise.engine.record.store import Record
from lapwise.engine.record.table import cell, write_csv
from lapwise.engine.record.work import Stopped
from lapwise.tui.cli.log import Logged

Run = Callable[..., tuple[int, str, str]]
YEARS = 10 * 365 * 86_400 * 10**9
GOOD = ("--material", "topaz", "--lap", "tin-lap", "--compound", "aluminium-oxide")
TRY = (*GOOD, "--symptom", "haze", "--remedy", "clean-lap", "--outcome", "no-change")


def log(record, **more):
    return record.log_outcome(case(), "clean-lap", "no-change", minutes=1, knowledge_digest="k", **more)


def lines_of(record):
    return io.StringIO("".join(f"{line}\n" for line in export_lines(record)))


# --- the clock -------------------------------------------------------------------------------------------------


def ahead_once(folders, monkeypatch):
    """One case logged with the clock ten years ahead, then four with the right time."""
    real = time.time_ns
    with Record.open(folders) as record:
        monkeypatch.setattr("time.time_ns", lambda: real() + YEARS)
        log(record)
        monkeypatch.setattr("time.time_ns", real)
        for _ in range(4):
            log(record)


def test_one_log_with_a_wrong_clock_does_not_stay(tmp_path, monkeypatch):
    ahead_once(where(tmp_path / "a"), monkeypatch)
    with Record.open(where(tmp_path / "a")) as record, Record.open(where(tmp_path / "b")) as other:
        found = import_lines(other, lines_of(record))
        assert dict(found.added) == {"case": 4, "step": 4}
        assert found.refused == 2
        made = care.make_backup(record)
    with Record.open(where(tmp_path / "c")) as third:
        counts = care.restore(third, made)
        assert (dict(counts.added), counts.refused) == ({"case": 5, "step": 5}, 0)


def test_what_a_wrong_clock_dated_is_not_the_newest_for_years_and_keeps_its_order(tmp_path, monkeypatch):
    ahead_once(where(tmp_path), monkeypatch)
    with Record.open(where(tmp_path)) as record:
        newest, *_, dated = record.cases()
        assert ids.milliseconds(dated.id) > ids.milliseconds(newest.id)
        assert record.last_case().id == newest.id
        log(record, case_id=dated.id)
        last = record.close_case(dated.id, "accepted")
        assert record.case(dated.id).result == "accepted"
        assert record.case(dated.id).last == last
        assert record.undo_last(dated.id)
        assert record.case(dated.id).open
        assert care.check(record).sound


# --- whose it is -----------------------------------------------------------------------------------------------


def test_open_cases_of_others_stay_theirs(tmp_path, run: Run):
    with Record.open(where(tmp_path / "theirs")) as theirs:
        theirs_id = theirs.open_case(case())
        (tmp_path / "theirs.jsonl").write_text(lines_of(theirs).getvalue())
    assert run("record", "import", tmp_path / "theirs.jsonl")[0] == 0
    code, _, err = run("log", "try", "--remedy", "clean-lap", "--outcome", "fixed")
    assert code == 1
    assert "no case of yours is open" in err
    assert run("log", "undo")[0] == 1
    assert "(imported)" in run("record", "show", "--open")[1]
    with Record.open(where(tmp_path)) as record:
        assert record.open_cases() == []
        assert record.last_case() is None
        log(record, case_id=theirs_id)  # named: one works on it too
        assert [c.id for c in record.open_cases()] == [theirs_id]


def test_ones_own_record_from_another_machine_is_ones_own(tmp_path, run: Run):
    with Record.open(where(tmp_path / "old")) as old:
        old.open_case(case())
        (tmp_path / "old.jsonl").write_text(lines_of(old).getvalue())
    assert run("record", "import", "--mine", tmp_path / "old.jsonl")[0] == 0
    assert run("log", "try", "--remedy", "clean-lap", "--outcome", "fixed")[0] == 0


def test_a_backup_brings_back_whose_cases_they_are(tmp_path):
    with Record.open(where(tmp_path / "b")) as other, Record.open(where(tmp_path / "a")) as record:
        other.open_case(case())
        mine = record.open_case(case())
        import_lines(record, lines_of(other))
        made = care.make_backup(record)
    with Record.open(where(tmp_path / "c")) as fresh:
        care.restore(fresh, made)
        assert [c.id for c in fresh.open_cases()] == [mine]
        assert len(fresh.open_cases(of_all=True)) == 2


def test_two_benches_laps_of_one_name_do_not_lock_each_other_out(tmp_path):
    with Record.open(where(tmp_path / "b")) as other, Record.open(where(tmp_path / "a")) as record:
        theirs = other.add_lap(OwnLap("fine tin", "tin-lap"))
        import_lines(record, lines_of(other))
        assert record.lap("fine tin").id == theirs
        mine = record.add_lap(OwnLap("Fine tin", "zinc-lap"))
        assert record.lap("fine tin").id == mine
        other_one = record.add_lap(OwnLap("coarse tin", "tin-lap"))
        with pytest.raises(BadInput, match="of this name"):
            record.change_lap(other_one, name="FINE tin")
        assert record.lap(theirs).type == "tin-lap"
        record.clean_lap("fine tin")
        third = where(tmp_path / "c")
        with Record.open(third) as club:
            import_lines(club, lines_of(record))
            with pytest.raises(BadInput, match="more than one lap"):
                club.lap("fine tin")
            assert club.lap(mine[-8:]).id == mine


def test_a_lap_added_by_two_at_once_is_there_once(tmp_path):
    folders = where(tmp_path)
    with Record.open(folders) as record:
        log(record)
    go = threading.Barrier(4)
    came = []

    def add():
        with Record.open(folders) as record:
            go.wait()
            try:
                came.append(record.add_lap(OwnLap("board", "acrylic-lap")))
            except BadInput:
                came.append("taken")

    threads = [threading.Thread(target=add) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(came)[-1] == "taken"
    assert came.count("taken") == 3
    with Record.open(folders) as record:
        assert len(record.laps()) == 1


# --- files -----------------------------------------------------------------------------------------------------


def test_a_new_file_is_whole_or_not_there(tmp_path):
    target = tmp_path / "mine.jsonl"

    def broken_off():
        with new_file(target) as file:
            file.write(b"half")
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        broken_off()
    assert list(tmp_path.iterdir()) == []
    target.write_bytes(b"theirs")
    with pytest.raises(FileExistsError), new_file(target):
        pass
    assert target.read_bytes() == b"theirs"


def test_a_killed_export_leaves_nothing_under_its_name(tmp_path):
    folders = where(tmp_path)
    with Record.open(folders) as record:
        for _ in range(5):
            log(record)
    code = """
import os, signal, sys
from lapwise.engine.record import exchange
old = exchange.export_lines
def lines(record, left_out, progress):
    yield from list(old(record, left_out))[:4]
    os.kill(os.getpid(), signal.SIGKILL)
exchange.export_lines = lines
from lapwise.tui.cli.main import main
main(["record", "export", sys.argv[1], "--data", sys.argv[2]])
"""
    target = tmp_path / "out.jsonl"
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    done = subprocess.run([sys.executable, "-c", code, target, folders.data], env=environment, check=False)
    assert done.returncode == -signal.SIGKILL
    assert not target.exists()


def test_a_backup_touches_no_file_of_the_persons(tmp_path, run: Run):
    run("log", "good", *GOOD)
    mine = tmp_path / "notes.part"
    mine.write_text("mine")
    assert run("record", "backup", tmp_path / "notes")[0] == 0
    assert mine.read_text() == "mine"
    assert {p.name for p in tmp_path.iterdir()} == {"notes", "notes.part", "data"}


def test_an_import_from_a_pipe(tmp_path, run: Run):
    with Record.open(where(tmp_path / "a")) as record:
        for _ in range(600):
            log(record)
        text = lines_of(record).getvalue().encode()
    read, write = os.pipe()
    feeder = threading.Thread(target=lambda: os.write(write, b"") or os.fdopen(write, "wb").write(text))
    feeder.start()
    code, out, err = run("record", "import", f"/dev/fd/{read}", "--json")
    feeder.join()
    os.close(read)
    assert code == 0, err
    assert json.loads(out)["added"] == {"case": 600, "step": 600}


def test_an_interrupted_log_leaves_no_empty_case(tmp_path, run: Run, monkeypatch):
    run("log", "good", *GOOD)

    def interrupted(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr("lapwise.tui.cli.log.Logged._shown", interrupted)
    assert run("log", *TRY, "--tried", "recharge-lap=no-change")[0] == 130
    monkeypatch.undo()
    monkeypatch.setenv("LAPWISE_DATA", str(tmp_path / "data"))
    with Record.open(where(tmp_path)) as record:
        assert len(record.cases()) == 1
        assert record.open_cases() == []


def test_two_looks_in_one_line_are_one_object_and_one_transaction(run: Run):
    run("log", "open", *GOOD, "--symptom", "haze")
    code, out, _ = run("log", "saw", "--saw", "loupe-check=dotted", "--saw", "loupe-check=crooked", "--json")
    assert code == 0
    found = json.loads(out)
    assert len(found["ids"]) == 2
    assert found["id"] == found["ids"][-1]


def test_looks_of_one_line_are_logged_all_or_none(tmp_path, run: Run, monkeypatch):
    run("log", "open", *GOOD, "--symptom", "haze")
    shown, asked = Logged._shown, []

    def interrupted_at_the_second(*args):
        asked.append(args)
        if len(asked) == 2:
            raise KeyboardInterrupt
        return shown(*args)

    monkeypatch.setattr(Logged, "_shown", interrupted_at_the_second)
    assert run("log", "saw", "--saw", "loupe-check=dotted", "--saw", "loupe-check=crooked")[0] == 130
    with Record.open(where(tmp_path)) as record:
        (open_case,) = record.open_cases()
        assert open_case.steps == ()


# --- text ------------------------------------------------------------------------------------------------------


def test_an_export_is_utf8_whatever_the_terminal(tmp_path):
    note = "Ärger mit 45°, µm, 磨き"
    folders = where(tmp_path)
    with Record.open(folders) as record:
        log(record, note=note)
        whole = lines_of(record).getvalue()
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path), "PYTHONIOENCODING": "latin-1"}
    main = "from lapwise.tui.cli.main import main; main()"
    command = [sys.executable, "-c", main, "record"]
    done = subprocess.run(
        [*command, "export", "--data", str(folders.data)], env=environment, capture_output=True, check=True
    )
    assert done.stdout.decode() == whole
    other = tmp_path / "other"
    subprocess.run(
        [*command, "import", "-", "--data", str(other)], env=environment, input=done.stdout, check=True, timeout=60
    )
    table = subprocess.run(
        [*command, "export", "--csv", "--data", str(other)], env=environment, capture_output=True, check=True
    )
    (row,) = csv.DictReader(io.StringIO(table.stdout.decode(), newline=""))
    assert row["note"] == note


def test_a_file_that_is_not_utf8_is_refused_row_by_row(tmp_path, run: Run):
    with Record.open(where(tmp_path / "a")) as record:
        log(record, note="Ärger")
        text = lines_of(record).getvalue()
    (tmp_path / "latin.jsonl").write_bytes(text.encode("latin-1"))
    code, out, _ = run("record", "import", tmp_path / "latin.jsonl", "--json")
    assert code == 0
    assert json.loads(out)["reasons"] == {"not UTF-8": 1}
    assert json.loads(out)["added"] == {"case": 1}


@pytest.mark.parametrize("end", ["", "a;", "a; ", "a\t", "a\n", "a\r\n", 'a;"', "a;' "])
@pytest.mark.parametrize("sign", ["=1+1", "+1", "-1", "@SUM(A1)", "\N{FULLWIDTH EQUALS SIGN}1"])
def test_no_cell_becomes_a_formula_however_it_is_split(end, sign):
    for piece in re.split(r"[;\t\r\n]", cell(end + sign)):
        bare = piece.lstrip(" \"'") if not piece.lstrip(' "').startswith("'") else ""
        assert not bare.startswith(tuple("=+-@\N{FULLWIDTH EQUALS SIGN}")), piece
    assert cell("wet; 45-degree, plain") == "wet; 45-degree, plain"


# --- long work -------------------------------------------------------------------------------------------------


def test_long_work_tells_what_is_left_and_stopped_leaves_all_as_it_was(tmp_path):
    with Record.open(where(tmp_path / "a")) as big:
        with big.writing():
            for _ in range(1100):
                log(big)
        made = care.make_backup(big)
    with Record.open(where(tmp_path / "b")) as record:
        log(record)
        before = lines_of(record).getvalue()

        def tell_and_stop(at):
            shares = []

            def tell(done, share):
                shares.append(share)
                if share is not None and share >= at:
                    raise Stopped

            return shares, tell

        for at in (0.0, 0.71):  # while rows are read, and while what they change is worked out
            shares, tell = tell_and_stop(at)
            with pytest.raises(Stopped):
                care.restore(record, made, tell)
            assert lines_of(record).getvalue() == before
            assert care.check(record).sound
        shares, tell = tell_and_stop(2.0)
        care.restore(record, made, tell)
        known = [s for s in shares if s is not None]
        assert known == sorted(known)
        assert known[-1] == pytest.approx(1.0)
        shares, tell = tell_and_stop(0.5)
        with pytest.raises(Stopped):
            care.check(record, progress=tell)
        assert care.check(record).sound
        for work in (
            lambda tell: care.forget(record, tell),
            lambda tell: care.remember(record, tell),
            lambda tell: write_lines(record, io.BytesIO(), progress=tell),
            lambda tell: write_csv(record, io.BytesIO(), tell),
        ):
            before = export_of(record)
            shares, tell = tell_and_stop(0.1)
            with pytest.raises(Stopped):
                work(tell)
            assert 0.1 <= shares[-1] <= 1.0
            assert export_of(record) == before


def export_of(record):
    """The rows, the counts and the marks: all that a stopped work could have changed."""
    with record.reading() as connection:
        return [connection.execute(f"SELECT * FROM {table}").fetchall() for table in ("steps", "counts", "marks")]


# --- the page --------------------------------------------------------------------------------------------------


def test_the_page_on_promises_names_a_test_that_there_is_for_each():
    page = (files("lapwise.tui") / "help" / "promises.md").read_text(encoding="utf-8")
    rows = [line.split("|") for line in page.splitlines() if line.startswith("| ") and "Tried by" not in line]
    assert len(rows) >= 20
    here = Path(__file__).parents[1]
    sources = "\n".join(p.read_text(encoding="utf-8") for p in here.rglob("*.py"))
    for row in rows:
        named = re.findall(r"`(test_\w+)`", row[2])
        assert named, row
        for test in named:
            assert f"def {test}(" in sources, test
