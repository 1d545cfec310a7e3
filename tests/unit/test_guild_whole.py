"""From two benches and many invented ones to a third that is better advised, by the commands of the guild page."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest
from tests.unit.guild_kit import pairs, put, share, shipped
from tests.unit.shipped import warm

from lapwise.engine.case import Case
from lapwise.engine.diagnosis import Session
from lapwise.engine.folders import folders
from lapwise.engine.knowledge.files import own_files
from lapwise.engine.knowledge.loader import load
from lapwise.engine.record.store import Record
from lapwise.tui.cli.main import main

pytest.importorskip("duckdb", reason="the extra guild is not installed")
pytest.importorskip("pyarrow", reason="the extra guild is not installed")

HIGH = 0.8
TROUBLES = ("haze", "fine-scratches", "stays-dull", "scratches-return", "orange-peel", "slow-polish")


def run(*args: str) -> int:
    with pytest.raises(SystemExit) as left:
        main(list(args))
    return int(left.value.code or 0)


@cache
def as_shipped() -> Session:
    return Session(shipped())


def minutes(session: Session, case: Case, tries: int = 6) -> float:
    """Expected minutes of the session's order where the invented benches are right (see guild_kit.share)."""
    true = {pair: HIGH if i % 2 else HIGH / 4 for i, pair in enumerate(pairs())}
    ready = session.prepare(case)
    takes = {o.remedy.id: o.remedy.minutes + o.remedy.setup_minutes for o in ready.options}
    alive, total = dict(as_shipped().prepare(case).belief.p), 0.0
    for step in [s.remedy for s in ready.plan.order if s.remedy in takes][:tries]:
        total += sum(alive.values()) * takes[step]
        alive = {c: p * (1 - true.get((step, c), 0.0)) for c, p in alive.items()}
    return total + 240.0 * sum(alive.values())


def test_a_third_bench_is_better_advised(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    given = put(tmp_path / "shares", [share(n, chance=HIGH, trials=12) for n in range(1, 17)])
    shown = {"posterior": {"loaded-lap": 1.0}, "fix": {"loaded-lap": 0.5}}
    for bench in ("ann", "bob"):
        with Record.open(folders(warm(tmp_path / bench))) as record:
            case = Case(material="topaz", lap="tin-lap", compound="aluminium-oxide", symptoms=("haze",))
            record.log_outcome(case, "clean-lap", "fixed", minutes=3, shown=shown, knowledge_digest="k")
        assert run("record", "share", str(given / f"{bench}.jsonl"), "--data", str(tmp_path / bench), "--yes") == 0
    out = str(tmp_path / "experience.yaml")
    assert run("guild", "pool", str(given), "--out", out, "--data", str(tmp_path / "ann")) == 0
    assert "from 18 benches" in capsys.readouterr().out
    third = tmp_path / "cleo"
    cases = [Case(material="topaz", lap="tin-lap", compound="aluminium-oxide", symptoms=(s,)) for s in TROUBLES]
    before = [minutes(as_shipped(), case) for case in cases]
    assert run("knowledge", "add", out, "--data", str(third)) == 0
    session = Session(load(folders(third)).knowledge)
    after = [minutes(session, case) for case in cases]
    assert sum(after) < 0.9 * sum(before)
    assert max(a - b for a, b in zip(after, before, strict=True)) < 1.0
    assert run("knowledge", "remove", "experience.yaml", "--data", str(third)) == 0
    assert own_files(folders(third)) == ()
