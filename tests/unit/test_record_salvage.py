"""A record that is lost, emptied or damaged: said, set aside, all that can be read brought over, backups kept."""

from __future__ import annotations

import contextlib
import os
import shutil
import sqlite3
import subprocess
import sys
import threading
import time
from collections.abc import Callable

import pytest
from tests.unit.record_kit import case, shown, where

from lapwise.engine.errors import Damaged, LapwiseError
from lapwise.engine.record import backup, salvage
from lapwise.engine.record.backup import backups_in
from lapwise.engine.record.care import check, make_backup, restore
from lapwise.engine.record.exchange import export_lines
from lapwise.engine.record.file import backup_folder
from lapwise.engine.record.ids import next_id, now_ms
from lapwise.engine.record.model import OwnLap
from lapwise.engine.record.store import Record
from lapwise.engine.record.work import Stopped

Run = Callable[..., tuple[int, str, str]]


def log(record, **more):
    return record.log_outcome(case(), "clean-lap", "no-change", minutes=1, knowledge_digest="k", **more)


def filled(folders, cases=40, note="x" * 60):
    """A record with laps, cases and steps; its export."""
    with Record.open(folders) as record:
        record.add_lap(OwnLap("mine", "tin-lap", carries=("aluminium-oxide",)))
        for n in range(cases):
            case_id = record.open_case(case())
            log(record, case_id=case_id, note=f"{n} {note}", shown=shown(0.5, 0.5, 0.5))
        return list(export_lines(record))


# --- lost or emptied -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("how", ["emptied", "deleted"])
def test_a_record_that_is_empty_or_gone_is_damage_while_there_is_a_backup(tmp_path, run: Run, how):
    folders = where(tmp_path)
    lines = filled(folders, 3)
    (kept,) = backups_in(backup_folder(folders))
    if how == "emptied":
        os.truncate(folders.record, 0)
    else:
        folders.record.unlink()
    for argv in (("record", "show"), ("record", "check"), ("record", "export")):
        code, _, err = run(*argv)
        text = " ".join((err if argv[1] != "check" else run(*argv)[1]).split())
        assert code == 3, argv
        assert str(kept) in text.replace(" ", "") or str(kept) in text
    code, out, err = run("log", "good", "--material", "topaz", "--lap", "tin-lap", "--compound", "aluminium-oxide")
    assert code == 0
    assert "--restore" in err
    code, out, _ = run("record", "check")  # it opens, but rows are missing
    assert code == 3
    assert "Rows are missing." in out
    assert run("record", "backup", "--restore", kept)[0] == 0
    assert run("record", "check")[0] == 0
    with Record.open(folders, readonly=True) as record:
        assert set(lines) < set(export_lines(record))


@pytest.mark.parametrize("how", ["emptied", "deleted"])
def test_rows_that_stand_in_the_log_alone_outlive_their_file(tmp_path, how):
    """Another window has the record open: what it logged lies beside the file that goes, and in no backup."""
    folders = where(tmp_path)
    window = Record.open(folders)
    told = [log(window) for _ in range(3)]
    if how == "emptied":
        os.truncate(folders.record, 0)
    else:
        folders.record.unlink()
    with Record.open(folders) as other:
        told.append(log(other))
        assert "nothing could be brought over" not in other.message
        assert not check(other).elsewhere
        assert told == [step.id for found in reversed(other.cases()) for step in found.steps]
        # the window takes up what was logged elsewhere before it writes itself
        assert told == [step.id for found in reversed(window.cases()) for step in found.steps]
        told.append(log(window))
        assert told == [step.id for found in reversed(other.cases()) for step in found.steps]
    window.close()


def test_a_window_whose_file_was_emptied_logs_into_a_whole_one(tmp_path):
    folders = where(tmp_path)
    with Record.open(folders) as window:
        told = [log(window) for _ in range(3)]
        os.truncate(folders.record, 0)
        told.append(log(window))
        with Record.open(folders, readonly=True) as other:
            assert told == [step.id for found in reversed(other.cases()) for step in found.steps]
            assert check(other).sound


def test_who_has_a_spoilt_file_open_checks_it_and_brings_it_back_for_all(tmp_path):
    """The head of the file is written over while a window has it open, which goes on seeing it whole."""
    folders = where(tmp_path)
    with Record.open(folders) as window:
        told = [log(window) for _ in range(3)]
        made = make_backup(window)
        for mended in (lambda: restore(window, made), lambda: check(window, repair=True)):
            with window.reading() as connection:  # as happens by itself after a thousand pages
                connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            with folders.record.open("r+b") as file:
                file.write(b"not a database!!")
            assert check(window).faults
            mended()
            with Record.open(folders, readonly=True) as other:
                assert told == [step.id for found in reversed(other.cases()) for step in found.steps]
            told.append(log(window))
            assert check(window).sound


def test_what_a_killed_process_left_in_the_log_hides_nothing_told_since(tmp_path):
    """Frames of a transaction that was cut off stay behind shorter ones written over them: SQLite knows them by their
    checksums, and so must who reads the log without it."""
    folders = where(tmp_path)
    with Record.open(folders) as record:
        told = [log(record) for _ in range(3)]
        for name in ("killed", "after"):
            (tmp_path / name).mkdir()
            for path in folders.data.glob("record.sqlite3*"):
                shutil.copy(path, tmp_path / name)
    logs = {}
    for name, notes in (("killed", ["x" * 9000] * 2), ("after", ["short"])):
        connection = sqlite3.connect(tmp_path / name / "record.sqlite3")
        before = (tmp_path / name / "record.sqlite3-wal").stat().st_size
        connection.execute("BEGIN")
        case_id = connection.execute("SELECT case_id FROM steps ORDER BY seq DESC").fetchone()[0]
        for note in notes:
            told.append(next_id(now_ms(), told[-1]))
            connection.execute(
                "INSERT INTO steps (id, case_id, at, kind, remedy, outcome, note, knowledge, version) "
                "SELECT ?, ?, at, 'try', 'clean-lap', 'worse', ?, 'k', '' FROM cases LIMIT 1",
                (told[-1], case_id, note),
            )
        connection.execute("COMMIT")
        logs[name] = (tmp_path / name / "record.sqlite3-wal").read_bytes()
        assert len(logs[name]) > before
        connection.close()
    acknowledged = {*told[:3], told[-1]}
    (tmp_path / "after" / "record.sqlite3").unlink(missing_ok=True)
    damaged = tmp_path / "found.sqlite3"
    damaged.touch()
    (tmp_path / "found.sqlite3-wal").write_bytes(logs["after"] + logs["killed"][before:])
    assert acknowledged <= salvage.readable_ids(damaged)


def test_advice_goes_on_without_a_record_that_is_gone(tmp_path, run: Run):
    folders = where(tmp_path)
    filled(folders, 2)
    os.truncate(folders.record, 0)
    code, _out, err = run("diagnose", "--material", "topaz", "--symptom", "haze")
    assert code == 0
    assert "without your record" in err
    assert folders.record.stat().st_size == 0


def test_a_log_of_changes_without_its_file_is_set_aside_and_read(tmp_path):
    """SQLite deletes a write-ahead log whose file is empty: it is set aside before."""
    folders = where(tmp_path)
    record = Record.open(folders)
    steps = {log(record) for _ in range(3)}
    wal = folders.record.with_name("record.sqlite3-wal")
    content = wal.read_bytes()
    record.close()
    shutil.rmtree(backup_folder(folders))
    wal.write_bytes(content)
    os.truncate(folders.record, 0)
    with Record.open(folders) as again:
        assert "no good backup" in again.message
        log(again)
        assert steps <= {s.id for c in again.cases() for s in c.steps}


def test_a_backup_that_holds_more_than_the_record_is_never_pruned(tmp_path, monkeypatch):
    monkeypatch.setattr(backup, "KEEP_DAILY", 1)
    folders = where(tmp_path)
    filled(folders, 3)
    (good,) = backups_in(backup_folder(folders))
    old = good.rename(good.with_name("record-20200101-000000-daily.sqlite3"))
    folders.record.unlink()
    with Record.open(folders) as record:
        log(record)
    for day in (2, 3):
        shutil.copy(backups_in(backup_folder(folders))[0], old.with_name(f"record-2020010{day}-000000-daily.sqlite3"))
    with Record.open(folders) as record, record.reading() as connection:
        backup.prune(backup_folder(folders), connection)
    kept = {p.name for p in backups_in(backup_folder(folders))}
    assert old.name in kept
    assert not kept & {"record-20200102-000000-daily.sqlite3", "record-20200103-000000-daily.sqlite3"}


def test_pruning_leaves_what_cannot_be_read_and_what_is_being_written(tmp_path, monkeypatch):
    monkeypatch.setattr(backup, "KEEP_DAILY", 1)
    folders = where(tmp_path)
    filled(folders, 3)
    kept = backup_folder(folders)
    unreadable = kept / "record-20200101-000000-daily.sqlite3"
    unreadable.write_bytes(os.urandom(20_000))
    young, old = kept / ".record-a.sqlite3-1.part", kept / ".record-b.sqlite3-2.part"
    for path in (young, old):
        path.touch()
    os.utime(old, (time.time() - 90_000, time.time() - 90_000))
    with Record.open(folders) as record, record.reading() as connection:
        backup.prune(kept, connection)
    assert unreadable.exists()
    assert young.exists()
    assert not old.exists(), "left behind by a killed process"


# --- damage inside ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("page_size", [512, 4096, 65536])
def test_the_pages_give_the_rows_that_sqlite_gives(tmp_path, page_size):
    """Every row of a sound file, short and long (over several pages), as SQLite itself reads it."""
    folders = where(tmp_path)
    filled(folders, 30, note="n" * 5000)
    other = tmp_path / "other.sqlite3"
    shutil.copy(folders.record, other)
    connection = sqlite3.connect(other, isolation_level=None)
    connection.execute("PRAGMA journal_mode = DELETE")
    connection.execute(f"PRAGMA page_size = {page_size}")
    connection.execute("VACUUM")
    ids = {r[0] for t in ("cases", "steps", "lap_rows") for r in connection.execute(f"SELECT id FROM {t}")}
    connection.close()
    found = salvage.look(other)
    assert (found.cases, found.steps, found.lap_rows, found.lost) == (30, 30, 1, 0)
    assert salvage.readable_ids(other) == ids


def test_rows_still_in_the_log_of_changes_are_read_and_uncommitted_ones_are_not(tmp_path):
    folders = where(tmp_path)
    with Record.open(folders) as record:
        kept = [log(record) for _ in range(20)]

        def broken_off():
            with record.writing() as connection:
                connection.execute("PRAGMA cache_size = 1")  # so that pages go to the log before the commit
                for _ in range(30):
                    log(record, note="z" * 3000)
                raise KeyboardInterrupt

        with pytest.raises(KeyboardInterrupt):
            broken_off()
        assert folders.record.with_name("record.sqlite3-wal").stat().st_size > 0
        assert set(salvage.readable_ids(folders.record)) >= set(kept)
        assert salvage.look(folders.record).steps == 20


def spoil_pages(path, every=3, of=("cases", "steps")):
    """Overwrite every so-many-th leaf page of the tables' rows with noise."""
    data = bytearray(path.read_bytes())
    size = int.from_bytes(data[16:18], "big")
    leaves = [at for at in range(size, len(data), size) if data[at] == 0x0D]
    for at in leaves[::every]:
        data[at : at + size] = os.urandom(size)
    path.write_bytes(bytes(data))
    return len(leaves[::every])


def test_damage_within_is_repaired_from_what_can_be_read(tmp_path, run: Run):
    folders = where(tmp_path)
    lines = filled(folders)
    shutil.rmtree(backup_folder(folders))
    assert spoil_pages(folders.record) > 1
    before = folders.record.read_bytes()
    code, out, _ = run("record", "check")
    assert code == 3
    readable = salvage.look(folders.record)
    assert readable.steps > 5
    assert f"Of the damaged file {readable}" in " ".join(out.split())
    assert "--repair" in out
    assert folders.record.read_bytes() == before
    code, out, _err = run("record", "check", "--repair")
    assert code == 3  # rows are lost
    assert "lost (logged between" in " ".join(out.split())
    aside = list(folders.data.glob("record-damaged-*.sqlite3"))
    assert [p.read_bytes() for p in aside] == [before]
    with Record.open(folders, readonly=True) as record:
        found = set(export_lines(record))
    assert 5 < len(found) < len(lines)
    assert found <= set(lines)
    assert run("record", "check")[0] == 0
    assert run("record", "show")[0] == 0
    assert run("log", "good", "--material", "topaz", "--lap", "tin-lap", "--compound", "aluminium-oxide")[0] == 0


def test_the_rows_that_are_lost_are_counted_exactly_where_their_index_is_whole(tmp_path):
    folders = where(tmp_path)
    lines = filled(folders)
    spoil_pages(folders.record)
    found = salvage.look(folders.record)
    assert found.rows + found.lost == len(lines) - 1
    assert found.first[:4] == found.last[:4]


def flip(folders, what=b'"material":"aquamarine"', to=b'"material":"aquam\xffrine"'):
    """Change one byte of the text of one row, as a bad disk would; the file stays a database."""
    data = folders.record.read_bytes()
    assert what in data
    folders.record.write_bytes(data.replace(what, to, 1))


@pytest.mark.parametrize("to", [b'"material":"aquam\xffrine"', b'"material":"aquam"rine"', b'"material" "aquamarine"'])
def test_a_flipped_byte_in_a_row_is_said_and_the_rest_is_exported(tmp_path, run: Run, to):
    folders = where(tmp_path)
    lines = filled(folders, 5)
    flip(folders, to=to)
    code, out, err = run("record", "export")
    assert code == 3
    assert "left out: case row" in err
    assert set(out.splitlines()) < set(lines)
    assert len(out.splitlines()) == len(lines) - 1
    code, out, _ = run("record", "check")
    assert code == 3
    readable = "4 cases, 5 steps and 1 rows of laps can be read; 1 rows are lost"
    assert f"Of the damaged file {readable}" in " ".join(out.split())
    code, _, err = run("diagnose", "--material", "topaz", "--symptom", "haze")
    assert code == 0
    code, out, err = run("record", "check", "--repair")
    assert "1 rows are lost" in " ".join(out.split())
    assert run("record", "show")[0] == 0
    (kept,) = backups_in(backup_folder(folders))
    assert run("record", "backup", "--restore", kept)[0] == 0
    assert run("record", "export")[1].splitlines() == lines


def test_advice_goes_on_where_the_counts_are_damaged(tmp_path, run: Run):
    folders = where(tmp_path)
    filled(folders, 60)
    data = bytearray(folders.record.read_bytes())
    size = int.from_bytes(data[16:18], "big")
    for at in range(size, len(data), size):
        if data[at] in (0x0A, 0x02):
            data[at : at + size] = b"\xff" * size
    folders.record.write_bytes(bytes(data))
    code, _out, err = run("diagnose", "--material", "topaz", "--symptom", "haze")
    assert code == 0, err
    assert "without your record" in err
    assert run("plan", "topaz")[0] in (0, 2)


def test_a_repair_that_is_stopped_leaves_all_as_it_was(tmp_path):
    folders = where(tmp_path)
    filled(folders, 700)
    spoil_pages(folders.record, every=7)
    before = folders.record.read_bytes()

    def stop(done, share):
        if done:
            raise Stopped

    with Record.open(folders) as record, pytest.raises(Stopped):
        record.begin_anew(stop)
    assert folders.record.read_bytes() == before
    assert not list(folders.data.glob("record-damaged*"))
    assert not list(folders.data.glob(".*part*"))


def test_a_backup_that_cannot_be_made_is_said_and_leaves_nothing(tmp_path, run: Run):
    folders = where(tmp_path)
    filled(folders)
    shutil.rmtree(backup_folder(folders))
    data = bytearray(folders.record.read_bytes())
    size = int.from_bytes(data[16:18], "big")
    first = data.index(b"0 xxxxx") // size * size  # where the first steps are: logging another does not read it
    data[first + 8 : first + 10] = b"\xff\xff"
    folders.record.write_bytes(bytes(data))
    code, _, err = run("log", "good", "--material", "topaz", "--lap", "tin-lap", "--compound", "aluminium-oxide")
    assert code == 0
    assert "backup could not be made" in err
    assert not list(backup_folder(folders).glob("*.part")) + list(backup_folder(folders).glob(".*part*"))


def test_learning_afresh_and_whose_cases_they_are_outlive_a_repair(tmp_path):
    from lapwise.engine.record import care

    folders = where(tmp_path)
    other = where(tmp_path / "other")
    filled(other, 2)
    filled(folders, 3)
    with Record.open(folders) as record, Record.open(other, readonly=True) as theirs:
        import io

        from lapwise.engine.record.exchange import import_lines

        import_lines(record, io.StringIO("\n".join(export_lines(theirs)) + "\n"))
        care.forget(record)
        assert len(record.open_cases()) == 3
    flip(folders)
    with Record.open(folders) as record:
        found = check(record, repair=True)
        assert found.salvage is not None
        assert found.salvage.lost == 1
        assert len(record.open_cases(of_all=True)) == 4
        assert len(record.open_cases()) in (2, 3)
        with record.reading() as connection:
            assert connection.execute("SELECT count(*) FROM counts WHERE kind = 'fix' AND a <> 0").fetchone() == (0,)


# --- several processes -----------------------------------------------------------------------------------------

LOGGER = """
import sys, time
from lapwise.engine.case import Case
from lapwise.engine.errors import LapwiseError
from lapwise.engine.folders import folders
from lapwise.engine.record.store import Record
go = float(sys.argv[2])
time.sleep(max(0.0, go - time.time()))
for n in range(int(sys.argv[3])):
    with Record.open(folders(sys.argv[1])) as record:
        new = record.log_outcome(Case(material="topaz"), "clean-lap", "fixed", minutes=1, knowledge_digest="k")
    print(new, flush=True)
"""


def at_once(folders, processes, times):
    """So many processes that open, log and close at the same moment; the ids they said were on disk."""
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    go = time.time() + 1.5
    children = [
        subprocess.Popen(
            [sys.executable, "-c", LOGGER, str(folders.data), str(go), str(times)],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            env=environment,
        )
        for _ in range(processes)
    ]
    said = []
    for child in children:
        out, err = child.communicate()
        assert child.returncode == 0, err
        said += out.split()
    return said


def in_record(folders):
    with Record.open(folders, readonly=True) as record, record.reading() as connection:
        return {row[0] for row in connection.execute("SELECT id FROM steps")}


def test_processes_that_find_a_damaged_file_at_once_lose_nothing_they_said(tmp_path):
    folders = where(tmp_path)
    filled(folders, 5)
    folders.record.write_bytes(b"not a database!!" + folders.record.read_bytes()[16:])
    said = at_once(folders, 4, 4)
    assert len(said) == 16
    assert set(said) <= in_record(folders)
    assert len(list(folders.data.glob("record-damaged-*.sqlite3"))) == 1


def test_who_waited_for_another_to_set_a_damaged_file_aside_looks_again(tmp_path, monkeypatch):
    """Between finding the damage and its turn another process has put it right and logged: that is not set aside."""
    from lapwise.engine.record import database

    folders = where(tmp_path)
    filled(folders, 2)
    folders.record.write_bytes(b"not a database!!" + folders.record.read_bytes()[16:])
    alone, others = database.alone, []

    @contextlib.contextmanager
    def after_another(path):
        if not others:
            others.append("")  # the other one does not wait
            with Record.open(folders) as other:
                others[:] = [log(other)]
        with alone(path):
            yield

    monkeypatch.setattr(database, "alone", after_another)
    with Record.open(folders) as record:
        mine = log(record)
    assert {mine, *others} <= in_record(folders)
    assert len(list(folders.data.glob("record-damaged-*.sqlite3"))) == 1


def test_what_another_window_has_repaired_is_not_repaired_again(tmp_path):
    folders = where(tmp_path)
    filled(folders, 3)
    flip(folders)
    with Record.open(folders) as one, Record.open(folders) as two:
        assert one.begin_anew() is not None
        told = [log(one)]
        assert two.begin_anew() is None
        told.append(log(two))
        assert set(told) <= in_record(folders)
    assert len(list(folders.data.glob("record-damaged-*.sqlite3"))) == 1


def test_who_waits_to_log_while_the_file_is_set_aside_logs_into_the_new_one(tmp_path, monkeypatch):
    """The window has looked which file it is and stands in the row to write to it; then the file is renamed."""
    from lapwise.engine.record import database

    folders = where(tmp_path)
    filled(folders, 3)
    flip(folders)
    told: list[str] = []
    waits = threading.Event()
    set_aside = database.set_aside

    def while_another_waits(path):
        window.start()
        assert waits.wait(30)
        return set_aside(path)

    with Record.open(folders) as screens, Record.open(folders) as other:
        log(screens)
        window = threading.Thread(target=lambda: told.append(log(screens)))
        with screens.reading() as connection:
            connection.set_trace_callback(lambda statement: statement.startswith("BEGIN") and waits.set())
        monkeypatch.setattr(database, "set_aside", while_another_waits)
        assert other.begin_anew() is not None
        window.join()
        assert len(told) == 1
        assert set(told) <= in_record(folders)


def test_processes_that_begin_a_record_at_once_lose_nothing_they_said(tmp_path):
    for n in range(2):
        folders = where(tmp_path / str(n))
        said = at_once(folders, 4, 2)
        assert set(said) == in_record(folders)
        with Record.open(folders, readonly=True) as record:
            assert check(record).sound


def test_who_has_the_record_open_while_it_is_set_aside_logs_into_the_new_one(tmp_path):
    folders = where(tmp_path)
    filled(folders, 3)
    screens = Record.open(folders)
    log(screens)
    with Record.open(folders) as other:
        assert other.begin_anew() is not None
        first = log(other)
    second = log(screens)
    with Record.open(folders) as other:
        third = log(other)
        screens.close()  # it must not take the new file's log of changes along
        fourth = log(other)
    assert {first, second, third, fourth} <= in_record(folders)
    with Record.open(folders, readonly=True) as record:
        assert check(record).sound


def test_who_closes_the_file_that_was_set_aside_leaves_the_new_ones_log_in_its_place(tmp_path):
    """SQLite removes a log by its name at the last closing; before it looked whether its file has moved it removed
    that of the new one. The connection is therefore never closed, with whatever SQLite."""
    folders = where(tmp_path)
    filled(folders, 3)
    for leave in (Record.close, log):
        screens = Record.open(folders)
        log(screens)
        with screens.reading() as old:
            pass
        with Record.open(folders) as other:
            assert other.begin_anew() is not None
            told = [log(other)]
            leave(screens)
            assert old.execute("SELECT 1").fetchone() == (1,)
            assert folders.record.with_name("record.sqlite3-wal").stat().st_size > 0
            told.append(log(other))
            assert set(told) <= in_record(folders), "and not only once this one is closed"
        screens.close()


def test_a_damaged_backup_gives_what_can_be_read_of_it(tmp_path):
    folders = where(tmp_path)
    filled(folders)
    with Record.open(folders) as record:
        made = make_backup(record)
    spoil_pages(made)
    with Record.open(where(tmp_path / "new")) as record:
        counts = restore(record, made)
        assert 5 < sum(counts.added.values()) < 81
        assert counts.refused > 0
    made.write_bytes(os.urandom(20_000))
    with Record.open(where(tmp_path / "new2")) as record, pytest.raises(Damaged, match="nothing was changed"):
        restore(record, made)


def test_another_programs_database_is_not_touched_at_all(tmp_path):
    folders = where(tmp_path)
    folders.data.mkdir(parents=True)
    stranger = sqlite3.connect(folders.record)
    stranger.execute("CREATE TABLE theirs (x)")
    stranger.execute("PRAGMA user_version = 1")
    stranger.commit()
    stranger.close()
    before = folders.record.read_bytes()
    for readonly in (True, False):
        with pytest.raises(LapwiseError, match="not a record"), Record.open(folders, readonly=readonly) as record:
            record.open_case(case())
    assert folders.record.read_bytes() == before
    assert {p.name for p in folders.data.iterdir()} <= {"record.sqlite3", "record.lock"}
