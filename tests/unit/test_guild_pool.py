"""Many shares added up: the sums, the cap, the odd ones out, broken and repeated files; the same on Spark."""

from __future__ import annotations

import json
import random
from dataclasses import replace
from pathlib import Path

import pytest
from tests.unit.guild_kit import pairs, put, share, shipped

from lapwise.engine.case import Case
from lapwise.engine.errors import BadInput
from lapwise.engine.folders import folders
from lapwise.engine.guild.engines import DuckDB, Spark
from lapwise.engine.guild.intake import Intake, found_files
from lapwise.engine.guild.make import Made, make
from lapwise.engine.guild.model import MOST_COUNT, Noise, Share
from lapwise.engine.guild.pool import Outcome, pool, vocabulary
from lapwise.engine.knowledge.model import Found
from lapwise.engine.learning.pooling import KAPPA_BENCH, KAPPA_BENCH_CASES
from lapwise.engine.record.credit import UNIT
from lapwise.engine.record.exchange import export_lines
from lapwise.engine.record.store import Record

pytest.importorskip("duckdb", reason="the extra guild is not installed")
pytest.importorskip("pyarrow", reason="the extra guild is not installed")


def added_up(folder: Path) -> Made:
    return make(str(folder), shipped())


def numbers(outcome: Outcome) -> dict[tuple[str, str, str, str, str], Found]:
    return {(n.kind, n.level, n.name, n.remedy, n.cause): n.found for n in outcome.numbers}


def one(trials: float, hits: float, seed: int = 1, stone: str = "topaz") -> Share:
    """A share of a single pair."""
    row = (round(trials * UNIT), round(hits * UNIT))
    cells = {
        ("fix", "all", "", "clean-lap", "loaded-lap"): row,
        ("fix", "material", stone, "clean-lap", "loaded-lap"): row,
    }
    return Share(f"{seed:016x}", "2026-Q1", shipped().digest, "1", 5, cells)


CELL = ("fix", "all", "", "clean-lap", "loaded-lap")


def test_the_sums_are_those_worked_out_by_hand(tmp_path: Path) -> None:
    """Each bench weighs kappa / (kappa + its trials)."""
    folder = put(tmp_path / "s", [one(10, 8, 1), one(30, 6, 2), one(2, 1, 3)])
    found = numbers(added_up(folder).outcome)[CELL]
    weights = [KAPPA_BENCH / (KAPPA_BENCH + t) for t in (10, 30, 2)]
    trials = sum(w * t for w, t in zip(weights, (10, 30, 2), strict=True))
    hits = sum(w * h for w, h in zip(weights, (8, 6, 1), strict=True))
    assert found.trials == pytest.approx(trials, rel=1e-9)
    assert found.mean == pytest.approx(hits / trials, rel=1e-9)
    assert found.low < found.mean < found.high


def test_a_bench_counts_for_no_more_than_the_cap_however_much_it_gives(tmp_path: Path) -> None:
    many = [one(10, 9, n) for n in range(1, 21)]
    whale = one(100_000_000, 0, 99)
    found = numbers(added_up(put(tmp_path / "s", [*many, whale])).outcome)[CELL]
    assert found.mean > 0.75
    assert found.trials < 20 * 10 + KAPPA_BENCH


def test_no_pooled_chance_is_0_or_1_and_the_file_is_one_a_bench_can_read(tmp_path: Path) -> None:
    folder = put(tmp_path / "s", [one(500, 500, n) for n in (1, 2, 3)])
    made = added_up(folder)
    assert numbers(made.outcome)[CELL].mean == 0.997
    assert "0.997" in made.text
    folder = put(tmp_path / "t", [one(500, 0, n) for n in (1, 2, 3)])
    assert numbers(added_up(folder).outcome)[CELL].mean == 0.003


def test_benches_that_lie_are_named_and_left_out_and_honest_ones_stay(tmp_path: Path) -> None:
    dice = random.Random(7)
    honest = [share(n, trials=dice.randint(3, 15), chance=dice.uniform(0.6, 0.8)) for n in range(1, 17)]
    liars = [share(n, trials=10, chance=0.7, upside_down=True) for n in (101, 102)]
    made = added_up(put(tmp_path / "s", [*honest, *liars]))
    assert {name for name, _ in made.outcome.far} == {f"bench-{n:04d}.jsonl" for n in (17, 18)}
    assert all(times > 1 for _, times in made.outcome.far)
    with_them, without = numbers(made.outcome), numbers(added_up(put(tmp_path / "t", honest)).outcome)
    assert {key: found.mean for key, found in with_them.items()} == pytest.approx(
        {key: found.mean for key, found in without.items()}, abs=1e-9
    )


def test_too_few_benches_to_call_any_the_odd_one(tmp_path: Path) -> None:
    made = added_up(put(tmp_path / "s", [share(1), share(2), share(3, upside_down=True)]))
    assert made.outcome.far == ()


def test_nothing_of_a_rare_stone_is_told(tmp_path: Path) -> None:
    """What fewer than three benches know of a stone goes to the group it belongs to, at last to all stones."""
    few = [one(20, 10, n, stone="emerald") for n in (1, 2)]
    many = [one(20, 10, n, stone="aquamarine") for n in (3, 4, 5)]
    alone = one(20, 10, 6, stone="benitoite")
    found = numbers(added_up(put(tmp_path / "s", [*few, *many, alone])).outcome)
    stones = {name for kind, level, name, *_ in found if level == "material"}
    assert "aquamarine" in stones
    assert not {"emerald", "benitoite"} & stones
    assert found[CELL].trials == pytest.approx(6 * 10)


def test_the_same_share_twice_counts_once_in_either_form(tmp_path: Path) -> None:
    put(tmp_path / "s", [one(10, 8, 1), one(10, 8, 2)])
    put(tmp_path / "s" / "later", [one(10, 8, 1)], ".parquet")
    made = added_up(tmp_path / "s")
    assert made.taken.twice == [("later/bench-0001.parquet", "bench-0001.jsonl")]
    assert made.taken.shares == 2
    assert numbers(made.outcome)[CELL].trials == pytest.approx(2 * 10 * KAPPA_BENCH / (KAPPA_BENCH + 10))


def test_shares_in_one_folder_are_one_bench(tmp_path: Path) -> None:
    """A bench that gives every quarter does not get around the cap by it."""
    put(tmp_path / "s" / "ann", [one(10, 8, 1), one(10, 8, 2)])
    put(tmp_path / "s", [one(20, 4, 3)])
    made = added_up(tmp_path / "s")
    assert [b.name for b in made.taken.benches] == ["ann", "bench-0001.jsonl"]
    assert numbers(made.outcome)[CELL].mean == pytest.approx((16 + 4) / 40)


def test_older_knowledge_is_read_by_ids_and_what_is_unknown_is_counted(tmp_path: Path) -> None:
    rows = dict(one(10, 8).rows)
    rows["fix", "all", "", "no-longer-known", "loaded-lap"] = UNIT, UNIT
    rows["fix", "all", "", "clean-lap", "no-longer-known"] = UNIT, UNIT
    rows["fix", "material", "no-such-stone", "clean-lap", "loaded-lap"] = UNIT, UNIT
    old = replace(one(10, 8), knowledge="older", rows=rows)
    made = added_up(put(tmp_path / "s", [old, one(10, 8, 2), one(10, 8, 3)]))
    assert made.taken.other_knowledge == 1
    assert made.outcome.unknown == {"material": 1, "remedy against a cause": 2}
    assert numbers(made.outcome)[CELL].mean == pytest.approx(0.8)


def test_noised_shares_add_up_to_about_the_truth(tmp_path: Path) -> None:
    dice = random.Random(5)
    benches = []
    for n in range(300):
        noise = [dice.gauss(0, 3) for _ in range(2)]
        given = one(10 + noise[0], 7 + noise[1], n + 1)
        cells = {CELL: given.rows[CELL]}
        benches.append(replace(given, rows=cells, noise=Noise(4.0, 2.0)))
    found = numbers(added_up(put(tmp_path / "s", benches)).outcome)[CELL]
    assert found.mean == pytest.approx(0.7, abs=0.05)


def test_a_whole_export_counts_like_a_share_and_its_cases_once(tmp_path: Path) -> None:
    shown = {"posterior": {"loaded-lap": 1.0}, "fix": {"loaded-lap": 0.5}}
    with Record.open(folders(tmp_path / "r")) as record:
        for _ in range(4):
            case = Case(material="topaz", lap="tin-lap", compound="aluminium-oxide", symptoms=("haze",))
            record.log_outcome(case, "clean-lap", "fixed", minutes=3, shown=shown, knowledge_digest="k")
        lines = "\n".join(export_lines(record)) + "\n"
    folder = tmp_path / "s"
    folder.mkdir()
    (folder / "ann.jsonl").write_text(lines)
    (folder / "ann-again.jsonl").write_text(lines)
    made = added_up(folder)
    assert (made.taken.exports, made.taken.exports_left_out, made.taken.cases) == (2, 4, 4)
    assert numbers(made.outcome)[CELL].trials == pytest.approx(4 * KAPPA_BENCH / (KAPPA_BENCH + 4))


# --- what is broken -------------------------------------------------------------------------------------------


def spoilt() -> dict[str, bytes]:
    """Broken shares by name."""
    head = {
        "row": "header",
        "what": "lapwise share",
        "format": 1,
        "token": "f" * 16,
        "quarter": "2026-Q1",
        "knowledge": "k",
        "version": "1",
        "cases": 1,
        "noise": None,
        "rows": 1,
    }
    row = {
        "kind": "fix",
        "level": "all",
        "name": "",
        "remedy": "clean-lap",
        "cause": "loaded-lap",
        "trials": 9,
        "hits": 1,
    }

    def lines(h: dict[str, object], *rows: object) -> bytes:
        return "".join(json.dumps(x) + "\n" for x in (h, *rows)).encode()

    return {
        "empty": b"",
        "nothing-but-zeros": b"\0" * 500,
        "not-a-share": lines({"what": "something else"}),
        "list": b"[1, 2]\n",
        "deep": b"[" * 3000 + b"\n",
        "other-format": lines({**head, "format": 2}, row),
        "from-ahead": lines({**head, "quarter": "9999-Q4"}, row),
        "bad-token": lines({**head, "token": "../../etc"}, row),
        "true-cases": lines({**head, "cases": True}, row),
        "too-many-rows-said": lines({**head, "rows": 7}, row),
        "cut": lines(head, row)[:-9],
        "twice": lines({**head, "rows": 2}, row, row),
        "negative": lines(head, {**row, "trials": -1}),
        "cured-more-than-tried": lines(head, {**row, "hits": 19}),
        "huge": lines(head, {**row, "trials": MOST_COUNT * 10, "hits": 0}),
        "fraction": lines(head, {**row, "trials": 1.5}),
        "infinite": lines(head, row).replace(b": 9", b": Infinity"),
        "text": lines(head, {**row, "trials": "9"}),
        "null": lines(head, {**row, "cause": None}),
        "no-cause": lines(head, {**row, "cause": ""}),
        "sql": lines(head, {**row, "cause": "x'; DROP TABLE given; --"}),
        "long": lines(head, {**row, "cause": "x" * 5000}),
        "other-kind": lines(head, {**row, "kind": "veto"}),
        "own-level": lines(head, {**row, "level": "own", "name": "my-lap"}),
        "named-whole": lines(head, {**row, "name": "topaz"}),
        "fix-of-nothing": lines(head, {**row, "remedy": ""}),
        "more-keys": lines(head, {**row, "note": "hello"}),
        "bad-noise": lines({**head, "noise": {"epsilon": 0, "scale": 1}}, row),
    }


def test_a_broken_share_is_named_and_passed_over(tmp_path: Path) -> None:
    folder = put(tmp_path / "s", [one(10, 8, 1), one(10, 8, 2), one(10, 8, 3)])
    for name, data in spoilt().items():
        (folder / f"{name}.jsonl").write_bytes(data)
    (folder / "broken.parquet").write_bytes(b"PAR1 and more PAR1")
    (folder / "folder.jsonl").mkdir()
    (folder / "gone.jsonl").symlink_to(tmp_path / "nowhere")
    made = added_up(folder)
    named = {name.partition(".")[0] for name, _ in made.taken.broken}
    assert named == {*spoilt(), "broken", "folder", "gone"}
    assert all(why for _, why in made.taken.broken)
    assert numbers(made.outcome)[CELL].trials == pytest.approx(3 * 10 * KAPPA_BENCH / (KAPPA_BENCH + 10))


def test_the_number_of_another_share_on_other_content_is_no_repetition(tmp_path: Path) -> None:
    put(tmp_path / "s", [one(10, 8, 1)])
    put(tmp_path / "s" / "x", [one(10, 1, 1)])
    made = added_up(tmp_path / "s")
    assert [name for name, _ in made.taken.broken] == ["x/bench-0001.jsonl"]


def test_nothing_to_add_up_is_said(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="no shares here"):
        added_up(tmp_path)
    (tmp_path / "bad.jsonl").write_bytes(b"{}")
    with pytest.raises(BadInput, match="none of the shares") as raised:
        added_up(tmp_path)
    assert any("header" in str(p) for p in raised.value.problems)


def test_the_extra_is_named_where_it_is_missing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import sys

    put(tmp_path, [one(10, 8)])
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    with pytest.raises(BadInput, match=r"pip install 'lapwise\[guild\]'"):
        added_up(tmp_path)


# --- another engine -------------------------------------------------------------------------------------------


def test_the_vocabulary_weighs_causes_by_how_common_they_are() -> None:
    words = vocabulary(shipped())
    kappas = [row[5] for row in words.pairs if row[1] == "cause"]
    assert sum(kappas) == pytest.approx(KAPPA_BENCH_CASES * (1 - shipped().scales.other_share))
    assert len([row for row in words.pairs if row[1] == "fix"]) == len(pairs())
    stones = {row[0]: row for row in words.groups if row[1] == "material"}
    assert all(row[3] == -1 or stones[row[3]][4] < row[4] or row[4] == 2 for row in stones.values())


@pytest.mark.e2e
def test_spark_gives_the_same_figures(tmp_path: Path) -> None:
    pytest.importorskip("pyspark", reason="pyspark is not installed: pip install pyspark (Java 17)")
    dice = random.Random(3)
    given = [share(n, trials=dice.randint(2, 12), chance=dice.uniform(0.4, 0.8)) for n in range(1, 25)]
    given += [share(n, upside_down=True, chance=0.8) for n in (101, 102)]
    noised = {key: value for key, value in share(200).rows.items() if key[1] == "all"}
    given.append(replace(share(200), rows=noised, noise=Noise(1.0, 8.0)))
    folder = put(tmp_path / "s", given)
    staged = tmp_path / "given.parquet"
    taken = Intake(staged, shipped()).all(*found_files(str(folder)))
    outcomes = []
    for engine in (DuckDB(tmp_path), Spark()):
        try:
            outcomes.append(pool(engine, staged, taken.benches, vocabulary(shipped()), tmp_path))
        finally:
            engine.close()
    one, two = outcomes
    assert one.unknown == two.unknown
    assert [name for name, _ in one.far] == [name for name, _ in two.far]
    assert one.far
    assert len(one.numbers) == len(two.numbers) > 1000
    for a, b in zip(one.numbers, two.numbers, strict=True):
        assert replace(a, found=b.found) == b
        for field in ("mean", "trials"):  # the range follows from these, found to about 1e-9 by Newton's method
            assert getattr(a.found, field) == pytest.approx(getattr(b.found, field), rel=1e-9)
