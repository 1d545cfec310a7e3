"""The record under hard conditions: killed, disk full, write-protected, two writers, damage, old and newer versions."""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
import sys
import threading
import time

import pytest
from tests.unit.record_crash import kill_at_random
from tests.unit.record_kit import case, shown, where

from lapwise.engine.errors import Damaged, LapwiseError
from lapwise.engine.record import database, schema
from lapwise.engine.record.backup import backups_in, is_good
from lapwise.engine.record.care import check, make_backup, restore
from lapwise.engine.record.file import backup_folder
from lapwise.engine.record.store import Record


def log(record, **more):
    return record.log_outcome(case(), "clean-lap", "no-change", minutes=1, knowledge_digest="k", **more)


def steps_in(path):
    connection = sqlite3.connect(path)
    try:
        return {row[0] for row in connection.execute("SELECT id FROM steps")}
    finally:
        connection.close()


def test_killed_at_random_moments_nothing_acknowledged_is_lost(tmp_path):
    """1,000 runs are in tests/benchmarks/bench_record.py."""
    report = kill_at_random(tmp_path / "data", kills=20, seed=4)
    assert report.acknowledged > 20
    assert report.lost == 0
    assert report.unsound == 0


def in_child(code, *args, **options):
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    return subprocess.run(
        [sys.executable, "-c", code, *map(str, args)],
        env=environment,
        capture_output=True,
        text=True,
        check=False,
        **options,
    )


FULL = """
import resource, signal, sys
from lapwise.engine.case import Case
from lapwise.engine.errors import LapwiseError
from lapwise.engine.folders import folders
from lapwise.engine.record.store import Record
limit = int(sys.argv[2])
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
record = Record.open(folders(sys.argv[1]))
resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))
done = []
try:
    for _ in range(5000):
        done.append(record.log_outcome(Case(material="topaz"), "clean-lap", "no-change", minutes=1, note="x" * 3000,
                                       knowledge_digest="k"))
except LapwiseError as error:
    print(len(done), done[-1], error.exit_code, str(error).replace("\\n", " "))
    sys.stdout.flush()
import os; os._exit(0)
"""


def test_a_full_disk_says_so_and_keeps_what_was_said_to_be_kept(tmp_path):
    """The file may not grow past a limit (RLIMIT_FSIZE): writes fail as on a full disk or over a quota."""
    folders = where(tmp_path)
    with Record.open(folders) as record:
        log(record)
    run = in_child(FULL, folders.data, 600_000)
    count, last, code, *words = run.stdout.split()
    assert int(count) > 5, run.stderr
    assert code == "1"
    assert "nothing was logged" in " ".join(words)
    kept = steps_in(folders.record)
    assert last in kept
    assert len(kept) == int(count) + 1
    with Record.open(folders) as record:
        assert not check(record).faults
        log(record)  # room again


@pytest.mark.skipif(os.geteuid() != 0, reason="mounting a small tmpfs needs root")
def test_a_full_tmpfs(tmp_path):
    small = tmp_path / "small"
    small.mkdir()
    mount = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=1m", "tmpfs", str(small)], capture_output=True, check=False
    )
    if mount.returncode:
        pytest.skip("this machine lets nobody mount a tmpfs")
    try:
        folders = where(small)
        done = []
        with Record.open(folders) as record:

            def fill():
                for _ in range(2000):
                    done.append(log(record, note="y" * 2000))

            with pytest.raises(LapwiseError, match="full"):
                fill()
            assert {s.id for c in record.cases(limit=5000) for s in c.steps} == set(done)
        with Record.open(folders) as record:
            assert not check(record).faults
    finally:
        subprocess.run(["umount", str(small)], check=True)


AS_NOBODY = """
import encodings.idna, os, sys
from lapwise.engine.case import Case
from lapwise.engine.errors import LapwiseError
from lapwise.engine.folders import folders
from lapwise.engine.record.store import Record
from lapwise.engine.record.ids import version
version()
os.setgid(65534); os.setuid(65534)  # after the imports: the interpreter itself may lie in a closed folder
record = Record.open(folders(sys.argv[1]))
print(len(record.cases()), "|", record.message, "|", end=" ")
try:
    record.open_case(Case())
except LapwiseError as error:
    print(error.exit_code, error)
"""


@pytest.mark.skipif(os.geteuid() != 0, reason="to become another user needs root")
@pytest.mark.parametrize("there", [True, False])
def test_a_write_protected_folder_is_read_and_says_so(tmp_path, there):
    folders = where(tmp_path)
    if there:
        with Record.open(folders) as record:
            log(record)
    else:
        folders.data.mkdir(parents=True)
    for path in (folders.data, *folders.data.rglob("*")):
        path.chmod(0o555 if path.is_dir() else 0o444)
    parent = tmp_path
    while parent != parent.parent:
        if parent.stat().st_mode & 0o055 != 0o055 and parent.is_relative_to("/tmp/"):
            parent.chmod(0o755)
        parent = parent.parent
    run = in_child(AS_NOBODY, folders.data)
    assert run.returncode == 0, run.stderr
    cases, message, refusal = (part.strip() for part in run.stdout.split("|"))
    assert cases == ("1" if there else "0")
    assert "nothing was logged" in refusal
    if there:
        assert "write-protected" in message


def test_two_processes_wait_for_each_other_and_lose_nothing(tmp_path):
    folders = where(tmp_path)
    made: list[str] = []

    def work():
        with Record.open(folders) as record:
            for _ in range(25):
                made.append(log(record))

    threads = [threading.Thread(target=work) for _ in range(3)]
    code = """
import sys
from lapwise.engine.case import Case
from lapwise.engine.folders import folders
from lapwise.engine.record.store import Record
record = Record.open(folders(sys.argv[1]))
for _ in range(25):
    print(record.log_outcome(Case(material="topaz"), "clean-lap", "fixed", minutes=1, knowledge_digest="k"))
"""
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    children = [
        subprocess.Popen([sys.executable, "-c", code, str(folders.data)], stdout=subprocess.PIPE, env=environment)
        for _ in range(2)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    for child in children:
        made += child.communicate()[0].decode().split()
    assert len(made) == len(set(made)) == 125
    assert steps_in(folders.record) == set(made)
    with Record.open(folders) as record:
        assert not check(record).faults


def test_a_writer_waits_while_another_holds_the_lock(tmp_path):
    folders = where(tmp_path)
    with Record.open(folders) as record:
        log(record)
        other = sqlite3.connect(folders.record, isolation_level=None, check_same_thread=False)
        other.execute("BEGIN IMMEDIATE")
        release = threading.Timer(0.4, lambda: other.execute("COMMIT"))
        release.start()
        began = time.monotonic()
        log(record)
        assert time.monotonic() - began >= 0.3
        release.join()
        other.close()


def damage(path, how):
    data = bytearray(path.read_bytes())
    if how == "header":
        data[:16] = b"not a database!!"
    elif how == "middle":
        data[4096:-4096] = os.urandom(len(data) - 8192)
    elif how == "truncated":
        data = data[: len(data) // 3]
    path.write_bytes(bytes(data))


@pytest.mark.parametrize("how", ["header", "middle", "truncated"])
def test_a_damaged_record_is_set_aside_and_the_backup_is_offered(tmp_path, how):
    folders = where(tmp_path)
    with Record.open(folders) as record:
        made = [log(record) for _ in range(30)]
    assert len(backups_in(backup_folder(folders))) == 1
    damage(folders.record, how)
    before = folders.record.read_bytes()
    with pytest.raises(Damaged, match="--restore"):
        Record.open(folders, readonly=True)
    assert folders.record.read_bytes() == before
    with Record.open(folders) as record:
        assert "set aside" in record.message
        assert str(backups_in(backup_folder(folders))[0]) in record.message
        assert record.salvaged is not None
        if how == "header":
            assert (record.salvaged.steps, record.salvaged.lost) == (30, 0)
        else:
            assert record.salvaged.steps < 30
        new = log(record)
        counts = restore(record, backups_in(backup_folder(folders))[0])
        assert counts.added.get("step", 0) == 30 - record.salvaged.steps
        assert check(record).sound
    aside = [p for p in folders.data.iterdir() if p.name.startswith("record-damaged") and p.suffix == ".sqlite3"]
    assert [p.read_bytes() for p in aside] == [before]
    assert steps_in(folders.record) == {*made, new}


def test_another_programs_database_is_left_alone(tmp_path):
    folders = where(tmp_path)
    folders.data.mkdir(parents=True)
    stranger = sqlite3.connect(folders.record)
    stranger.execute("CREATE TABLE theirs (x)")
    stranger.commit()
    stranger.close()
    with pytest.raises(Damaged, match="not a record"), Record.open(folders) as record:
        record.open_case(case())
    assert sqlite3.connect(folders.record).execute("SELECT count(*) FROM theirs").fetchone() == (0,)


def test_a_backup_that_is_damaged_is_not_offered(tmp_path):
    folders = where(tmp_path)
    with Record.open(folders) as record:
        log(record)
        good = make_backup(record)
        log(record)
    newer = good.with_name("record-99991231-000000-backup.sqlite3")
    shutil.copy(good, newer)
    newer.write_bytes(os.urandom(newer.stat().st_size))
    assert not is_good(newer)
    damage(folders.record, "header")
    with Record.open(folders) as record:
        assert str(newer) not in record.message
        assert "backups" in record.message
        with pytest.raises(Damaged):
            restore(record, newer)


def test_a_newer_record_is_read_but_not_written(tmp_path):
    folders = where(tmp_path)
    with Record.open(folders) as record:
        log(record)
    connection = sqlite3.connect(folders.record)
    connection.execute(f"PRAGMA user_version = {schema.CURRENT + 1}")
    connection.execute("ALTER TABLE cases ADD COLUMN later TEXT")
    connection.commit()
    connection.close()
    with Record.open(folders) as record:
        assert "newer" in record.message
        assert len(record.cases()) == 1
        with pytest.raises(LapwiseError, match="newer"):
            log(record)


def version_1(path, cases=3):
    """A record as version 1 wrote it, by the script of that version."""
    path.parent.mkdir(parents=True)
    connection = sqlite3.connect(path)
    for statement in schema.statements(schema.VERSION_1):
        connection.execute(statement)
    for n in range(cases):
        case_id, step = f"017f22e2-79b0-7cc3-98c4-dc0c0c0739{n:02d}", f"017f22e2-79b0-7cc3-98c4-dc0c0c0739{n + 50:02d}"
        at = "2026-01-31T12:00:00.000Z"
        connection.execute("INSERT INTO case_keys VALUES (?)", (case_id,))
        connection.execute(
            "INSERT INTO cases (id, at, facts, knowledge, version) VALUES (?, ?, ?, 'k', '0.1')",
            (case_id, at, '{"material":"topaz","stage":"polish","lap":"tin-lap","compound":"aluminium-oxide"}'),
        )
        connection.execute(
            "INSERT INTO steps (id, case_id, at, kind, remedy, outcome, minutes, shown, knowledge, version) "
            "VALUES (?, ?, ?, 'try', 'clean-lap', 'fixed', 4, ?, 'k', '0.1')",
            (step, case_id, at, '{"posterior":{"stray-grit":1.0},"fix":{"stray-grit":0.5}}'),
        )
        connection.execute(
            "INSERT INTO case_now VALUES (?, ?, 0, 0, 'topaz', 'tin-lap', 'aluminium-oxide', '')", (case_id, step)
        )
    connection.execute("PRAGMA user_version = 1")
    connection.commit()
    connection.close()


def test_an_old_record_is_brought_up_to_date_with_a_backup_first(tmp_path):
    folders = where(tmp_path)
    version_1(folders.record)
    with Record.open(folders, readonly=True) as record:  # read without touching the file
        assert record.pair_result([["topaz"]], "tin-lap", "aluminium-oxide") == "worked"
    assert sqlite3.connect(folders.record).execute("PRAGMA user_version").fetchone() == (1,)
    with Record.open(folders) as record:
        assert record.pair_result([["topaz"]], "tin-lap", "aluminium-oxide") == "worked"
        assert not check(record).faults
        log(record)
    kept = [p for p in backups_in(backup_folder(folders)) if "before-update" in p.name]
    assert len(kept) == 1
    assert sqlite3.connect(kept[0]).execute("PRAGMA user_version").fetchone() == (1,)
    assert len(steps_in(kept[0])) == 3


def test_a_migration_that_is_interrupted_leaves_the_old_record_whole(tmp_path, monkeypatch):
    folders = where(tmp_path)
    version_1(folders.record)

    def interrupted(connection, version):
        connection.execute("DELETE FROM steps")
        raise KeyboardInterrupt

    monkeypatch.setattr("lapwise.engine.record.derived.fill", interrupted)
    with pytest.raises(KeyboardInterrupt):
        Record.open(folders)
    monkeypatch.undo()
    connection = sqlite3.connect(folders.record)
    assert connection.execute("PRAGMA user_version").fetchone() == (1,)
    assert connection.execute("SELECT count(*) FROM sqlite_master WHERE name = 'counts'").fetchone() == (0,)
    connection.close()
    with Record.open(folders) as record:
        assert len(record.cases()) == 3
        assert not check(record).faults


MIGRATE_AND_DIE = """
import os, signal, sys
from lapwise.engine.folders import folders
from lapwise.engine.record import derived
from lapwise.engine.record.store import Record
old = derived.fill
def fill(connection, version):
    old(connection, version)
    os.kill(os.getpid(), signal.SIGKILL)
derived.fill = fill
Record.open(folders(sys.argv[1]))
"""


def test_a_migration_that_is_killed_leaves_the_old_record_whole(tmp_path):
    folders = where(tmp_path)
    version_1(folders.record)
    assert in_child(MIGRATE_AND_DIE, folders.data).returncode == -9
    assert sqlite3.connect(folders.record).execute("PRAGMA user_version").fetchone() == (1,)
    with Record.open(folders) as record:
        assert len(record.cases()) == 3
        assert not check(record).faults


def test_the_schema_of_each_version_stays_as_it_was_published():
    """A change to a published script would leave older records different from new ones: write a new script."""
    import hashlib

    digests = [hashlib.sha256(s.encode()).hexdigest()[:16] for s in schema.SCRIPTS]
    assert digests == ["938a9014912f192a", "2ed075ead8508f24", "5171c6b39c170b61"]


def test_a_busy_record_is_not_taken_for_damaged(tmp_path, monkeypatch):
    monkeypatch.setattr(database, "WAIT_SECONDS", 0.05)
    folders = where(tmp_path)
    with Record.open(folders) as record:
        log(record)
    other = sqlite3.connect(folders.record, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with pytest.raises(LapwiseError, match="another Lapwise"), Record.open(folders) as record:
        log(record)
    other.execute("ROLLBACK")
    other.close()
    assert not [p for p in folders.data.iterdir() if "damaged" in p.name]


def test_the_check_finds_wrong_counts_and_mends_them(tmp_path):
    with Record.open(where(tmp_path)) as record:
        log(record, shown=shown(0.5, 0.5, 0.5))
        with record.writing() as connection:
            connection.execute("UPDATE counts SET a = a + 1")
        assert "out of step" in check(record).faults[0]
        assert check(record, repair=True).rebuilt
        assert not check(record).faults


def test_a_backup_is_never_written_over(tmp_path):
    folders = where(tmp_path)
    with Record.open(folders) as record:
        log(record)
        target = tmp_path / "mine.sqlite3"
        make_backup(record, target)
        with pytest.raises(LapwiseError, match="already"):
            make_backup(record, target)
