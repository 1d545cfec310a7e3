"""What a bench gives: counts of its own finished cases and nothing else, once, shown first; with noise that is what it
says it is."""

from __future__ import annotations

import json
import math
import random
from pathlib import Path

import pytest
from tests.unit.guild_kit import shipped
from tests.unit.knowledge_samples import base_files
from tests.unit.shipped import warm

from lapwise.engine.case import Case
from lapwise.engine.errors import BadInput
from lapwise.engine.folders import folders
from lapwise.engine.guild import share as shares
from lapwise.engine.guild.noise import BOUND, clipped, laplace
from lapwise.engine.knowledge import files
from lapwise.engine.record.credit import UNIT
from lapwise.engine.record.exchange import export_lines, import_lines
from lapwise.engine.record.model import OwnLap
from lapwise.engine.record.store import Record
from lapwise.tui.cli.main import main

SHOWN = {"posterior": {"stray-grit": 0.7, "loaded-lap": 0.3}, "fix": {"stray-grit": 0.3, "loaded-lap": 0.85}}
SECRET = "zircon-of-aunt"


def cured(record: Record, times: int = 1, **changes: object) -> None:
    case = {"material": "emerald", "lap": "tin-lap", "compound": "aluminium-oxide", "symptoms": ("haze",), **changes}
    for _ in range(times):
        record.log_outcome(
            Case(**case),  # type: ignore[arg-type]
            "clean-lap",
            "fixed",
            minutes=7,
            note=f"{SECRET} 2026-01-31",
            shown=SHOWN,
            knowledge_digest="k",
        )


def run(capsys: pytest.CaptureFixture[str], *args: str) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as left:
        main(list(args))
    out, err = capsys.readouterr()
    return int(left.value.code or 0), out, err


def names() -> shares.Names:
    return shares.Names(shipped(), shipped())


def test_a_share_is_the_sums_of_what_the_cases_taught(tmp_path: Path) -> None:
    with Record.open(folders(tmp_path)) as record:
        cured(record, 3)
        found = shares.gather(record, names())
        with record.reading() as connection:
            kept = connection.execute(
                "SELECT a, b FROM counts WHERE k1 = 'material' AND k3 = 'clean-lap' AND k4 = 'stray-grit'"
            ).fetchone()
    assert tuple(found.rows["fix", "material", "emerald", "clean-lap", "stray-grit"]) == kept
    assert found.rows["fix", "all", "", "clean-lap", "stray-grit"] == list(kept)
    assert found.by_stone == {"emerald": 3}
    assert ("cause", "compound", "aluminium-oxide", "", "stray-grit") in found.rows


def test_nothing_but_counts_leaves_the_bench(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    warm(tmp_path)
    with Record.open(folders(tmp_path)) as record:
        own = record.add_lap(OwnLap(SECRET, "tin-lap"))
        cured(record, 2, own_lap=own)
        ids = [case.id for case in record.cases()]
    out = tmp_path / "mine.jsonl"
    code, said, _ = run(capsys, "record", "share", str(out), "--data", str(tmp_path), "--yes")
    assert code == 0
    text = out.read_text()
    for secret in (SECRET, own, *ids, "haze", "minutes", "2026-01-31"):
        assert secret not in text
    head, *rows = map(json.loads, text.splitlines())
    assert set(head) == {
        *("row", "what", "format", "token", "quarter", "knowledge", "version", "cases", "noise", "rows"),
    }
    assert head["knowledge"] == shipped().digest
    assert {key for row in rows for key in row} == {"kind", "level", "name", "remedy", "cause", "trials", "hits"}
    assert "Not in it: notes, names" in said
    assert "Emerald" in said


def test_it_asks_and_writes_nothing_unasked(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    warm(tmp_path)
    with Record.open(folders(tmp_path)) as record:
        cured(record)
    out = tmp_path / "mine.jsonl"
    code, _, err = run(capsys, "record", "share", str(out), "--data", str(tmp_path))
    assert code == 2
    assert "--yes" in err
    assert not out.exists()
    code, said, _ = run(capsys, "record", "share", str(out), "--data", str(tmp_path), "--trial")
    assert code == 0
    assert "1 finished case" in said
    assert "A rare stone may tell who you are" in said
    assert not out.exists()
    assert not shares.given_path(folders(tmp_path)).exists()


def test_a_case_is_given_once(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    warm(tmp_path)
    where = folders(tmp_path)

    def give(name: str, *more: str) -> tuple[int, dict[str, object]]:
        code, out, _ = run(
            capsys, "record", "share", str(tmp_path / name), "--data", str(tmp_path), "--yes", "--json", *more
        )
        return code, json.loads(out) if out else {}

    with Record.open(where) as record:
        cured(record, 2)
    assert give("one.jsonl")[1]["cases"] == 2
    assert give("two.jsonl")[0] == 1, "nothing new to give"
    with Record.open(where) as record:
        cured(record)
    code, said = give("three.jsonl")
    assert (code, said["cases"], said["left_out"]) == (0, 1, {"given_before": 2, "own_ids": 0})
    assert give("other-guild.jsonl", "--all")[1]["cases"] == 3
    assert give("stone.jsonl", "--all", "--without", "emerald")[0] == 1


def test_an_open_case_and_the_cases_of_others_are_not_given(tmp_path: Path) -> None:
    with Record.open(folders(tmp_path / "theirs")) as theirs:
        cured(theirs, 2)
        lines = "\n".join(export_lines(theirs))
    with Record.open(folders(tmp_path / "mine")) as mine:
        import io

        import_lines(mine, io.StringIO(lines))
        case = Case(material="emerald", symptoms=("haze",))
        mine.log_outcome(case, "clean-lap", "no-change", minutes=1, shown=SHOWN, knowledge_digest="k")
        assert shares.gather(mine, names()).cases == []
        cured(mine)
        assert len(shares.gather(mine, names()).cases) == 1
        assert len(shares.gather(mine, names(), all_benches=True).cases) == 3


def test_own_stones_count_as_the_shipped_ones_they_belong_to(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    small = base_files(tmp_path / "sample")
    monkeypatch.setattr(files, "shipped_files", lambda: small)
    (tmp_path / "knowledge").mkdir()
    stone = f"materials:\n  {SECRET}: {{parent: glimmer, rank: variety, label: Mine}}\n"
    (tmp_path / "knowledge" / "mine.yaml").write_text(stone)
    shown = {"posterior": {"clog": 0.7, "grit": 0.3}, "fix": {"clog": 0.6, "grit": 0.85}}
    with Record.open(folders(tmp_path)) as record:
        for _ in range(4):
            case = Case(SECRET, "soft-disc", "red-powder", symptoms=("fog",))
            record.log_outcome(case, "wash", "fixed", minutes=7, shown=shown, knowledge_digest="k")
    out = tmp_path / "mine.jsonl"
    code, _, err = run(capsys, "record", "share", str(out), "--data", str(tmp_path), "--yes")
    assert code == 0, err
    assert '"glimmer"' in out.read_text()
    assert SECRET not in out.read_text()


# --- noise ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("top", "bottom"), [(1, 1), (3, 2), (1, 4), (7, 1)])
def test_the_noise_is_the_discrete_laplace_distribution(top: int, bottom: int) -> None:
    """Against SciPy's discrete Laplace, by the chi-square test at one in a million."""
    from scipy import stats

    dice = random.Random(20260801)
    drawn = [laplace(top, bottom, dice.randrange) for _ in range(2000)]
    law = stats.dlaplace(bottom / top)
    reach = [x for x in range(-60, 61) if law.pmf(x) * len(drawn) >= 8]
    seen = [sum(d == x for d in drawn) for x in reach]
    expected = [law.pmf(x) * len(drawn) for x in reach]
    seen.append(len(drawn) - sum(seen))
    expected.append(len(drawn) - sum(expected))
    if expected[-1] < 1:
        seen, expected = seen[:-1], expected[:-1]
    chi = sum((s - e) ** 2 / e for s, e in zip(seen, expected, strict=True))
    assert chi < stats.chi2.ppf(1 - 1e-6, len(seen))


def test_a_case_adds_no_more_than_the_bound() -> None:
    """What one case adds to all numbers of a noised share, itself included, is what the noise was measured for."""
    wild = {("a", i): (3 * UNIT, -2 * UNIT) for i in range(40)}
    assert sum(abs(a) + abs(b) for a, b in clipped(wild, BOUND - UNIT).values()) <= BOUND - UNIT
    small = {("a", 1): (UNIT, UNIT // 2)}
    assert clipped(small, BOUND - UNIT) == small


def test_a_noised_share_holds_the_same_cells_whatever_happened(tmp_path: Path) -> None:
    """A cell that stood in it only where something was logged would tell that it was."""
    cells = []
    for times in (1, 3):
        with Record.open(folders(tmp_path / str(times))) as record:
            cured(record, times)
            found = shares.gather(record, names(), noise=True)
        made = shares.share_of(found, shipped(), "1", 1.0)
        assert made.noise is not None
        assert math.isclose(made.noise.scale, 8.0)
        cells.append(set(made.rows))
    assert cells[0] == cells[1]
    assert all(level == "all" for _, level, *_ in cells[0])


@pytest.mark.parametrize("epsilon", [0, -1, 0.001, 1000, math.nan, math.inf])
def test_an_epsilon_out_of_range_is_refused(tmp_path: Path, epsilon: float) -> None:
    with Record.open(folders(tmp_path)) as record:
        cured(record)
        found = shares.gather(record, names(), noise=True)
    with pytest.raises(BadInput, match="epsilon from"):
        shares.share_of(found, shipped(), "1", epsilon)
