"""A bench takes a guild's file: chances move, own trials outweigh it as they grow, nothing that protects is touched;
a damaged or hostile file is refused or does no harm; it is as easily gone again."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
from tests.unit.knowledge_samples import base_files
from tests.unit.record_kit import case, knowledge, shown, where
from tests.unit.shipped import knowledge as shipped_knowledge

from lapwise.engine.case import Case
from lapwise.engine.diagnosis import Session
from lapwise.engine.folders import folders
from lapwise.engine.knowledge import files
from lapwise.engine.knowledge.files import own_files
from lapwise.engine.knowledge.loader import load
from lapwise.engine.knowledge.model import Experience, Found
from lapwise.engine.knowledge.place import Place
from lapwise.engine.learning import fix_chances, learned_of
from lapwise.engine.learning.pooling import KAPPA_BENCH, PSEUDO_TRIALS
from lapwise.engine.learning.works import answer_lines, record_lines
from lapwise.engine.record.store import Record
from lapwise.tui.cli.main import main

PLACE = Place("experience.yaml", 1, own=True)


def experience(chance: float = 0.9, factor: float = 2.0, trials: float = 1000.0) -> dict[str, Experience]:
    """A guild that found cleaning the lap to cure grit with ``chance``, and grit ``factor`` times as frequent."""
    found = {"clean-lap": {"stray-grit": Found(chance, chance, chance, trials)}}
    causes = {"stray-grit": Found(factor, factor, factor, trials)}
    return {"all": Experience("all", "all", "", found, causes, 12, "2026-Q2", PLACE)}


def with_guild(**changes: float) -> dict[str, object]:
    return {"experience": experience(**changes)}


def run(capsys: pytest.CaptureFixture[str], *args: str) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as left:
        main(list(args))
    out, err = capsys.readouterr()
    return int(left.value.code or 0), out, err


# --- what it does to chances ----------------------------------------------------------------------------------


def test_three_columns_without_a_record_and_with_one(tmp_path: Path) -> None:
    known = knowledge(**with_guild())
    found = fix_chances(None, known, "aquamarine").chance("clean-lap", "stray-grit")
    assert (found.shipped.mean, found.guild and found.guild.mean, found.yours) == (0.3, 0.9, None)
    assert 0.8 < found.together.mean < 0.9
    with Record.open(where(tmp_path)) as record:
        for _ in range(10):
            record.log_outcome(
                case(), "clean-lap", "no-change", minutes=1, knowledge_digest="k", shown=shown(1.0, 0.3, 0.8)
            )
        found = fix_chances(record, known, "aquamarine").chance("clean-lap", "stray-grit")
        assert found.yours is not None
        assert found.guild is not None
        assert found.yours.mean == 0
        assert set(found.as_json()) == {"remedy", "cause", "shipped", "guild", "yours", "together"}
        line = next(x for x in record_lines(record, known, "clean-lap") if "grit" in x)
    assert [line.index(word) for word in ("shipped 30 %", "guild 90 %", "yours 0 %", "together")] == sorted(
        line.index(word) for word in ("shipped 30 %", "guild 90 %", "yours 0 %", "together")
    )


def test_own_trials_outweigh_the_guild_as_they_grow(tmp_path: Path) -> None:
    """However many trials the guild has, own ones that say otherwise win: ten weigh as ten against twenty at least."""
    known = knowledge(**with_guild(trials=1e6))
    means = []
    with Record.open(where(tmp_path)) as record:
        for logged in range(1, 101):
            record.log_outcome(
                case(), "clean-lap", "no-change", minutes=1, knowledge_digest="k", shown=shown(1.0, 0.3, 0.8)
            )
            if logged in (1, 10, 40, 100):
                means.append(fix_chances(record, known, "aquamarine").fix("clean-lap", "stray-grit") or 0.0)
    assert means == sorted(means, reverse=True)
    assert means[0] > 0.8
    assert means[1] < 0.9 * KAPPA_BENCH / (KAPPA_BENCH + 10)
    assert means[3] < 0.2


def test_a_guild_without_many_trials_hardly_moves_what_is_shipped() -> None:
    known = knowledge(**with_guild(trials=1.0))
    moved = fix_chances(None, known).fix("clean-lap", "stray-grit")
    assert moved == pytest.approx((0.3 * PSEUDO_TRIALS + 0.9) / (PSEUDO_TRIALS + 1))


def test_a_cause_met_more_often_by_the_guild_is_taken_as_more_frequent() -> None:
    known = knowledge(**with_guild(factor=2.0, trials=1e5))
    factors = fix_chances(None, known).cause_factors()
    assert factors == {"stray-grit": pytest.approx(2.0, abs=0.01)}


def test_what_the_guild_found_on_a_stone_counts_more_there(tmp_path: Path) -> None:
    whole = experience(chance=0.9, trials=400)
    row = {"clean-lap": {"stray-grit": Found(0.1, 0.05, 0.2, 100)}}
    emerald = Experience("material.emerald", "material", "emerald", row, {}, 0, "", PLACE)
    lap = Experience("lap.zinc-lap", "lap", "zinc-lap", row, {}, 0, "", PLACE)
    known = knowledge(experience={**whole, emerald.id: emerald, lap.id: lap})

    def chance(stone: str, on: str | None = None) -> float:
        return fix_chances(None, known, stone, on).fix("clean-lap", "stray-grit") or 0.0

    assert chance("emerald") < chance("aquamarine") < chance("topaz")
    assert chance("topaz", "zinc-lap") < chance("topaz", "tin-lap")


def test_nothing_changes_without_a_guilds_file(tmp_path: Path) -> None:
    assert learned_of(None, knowledge(), case()) is None
    with Record.open(where(tmp_path)) as record:
        assert learned_of(record, knowledge(), case()) is None
        assert learned_of(record, knowledge(**with_guild()), case()) is not None


def test_a_pair_the_knowledge_does_not_name_gains_nothing() -> None:
    """A guild cannot make a remedy cure what it is not said to cure."""
    row = {
        "clean-everything": {"loaded-lap": Found(0.9, 0.8, 0.95, 1e6)},
        "no-such": {"stray-grit": Found(0.9, 0.8, 0.95, 9)},
    }
    known = knowledge(experience={"all": Experience("all", "all", "", row, {}, 3, "", PLACE)})
    learned = fix_chances(None, known)
    assert learned.chances() == []
    assert learned.as_json()["moved"] == []


# --- advice and safety ----------------------------------------------------------------------------------------


def test_vetoes_and_cautions_are_what_they_were_whatever_a_guild_says() -> None:
    """A file that praises every remedy to the skies and every cause away, over cases with vetoes of every kind."""
    shipped = shipped_knowledge()
    fixes = {r.id: {c: Found(0.997, 0.9, 1.0, 1e9) for c in r.fixes} for r in shipped.remedies.values()}
    causes = {c: Found(0.1 if i % 2 else 10.0, 0.1, 10.0, 1e9) for i, c in enumerate(sorted(shipped.causes))}
    hostile = replace(shipped, experience={"all": Experience("all", "all", "", fixes, causes, 9, "", PLACE)})
    plain, moved = Session(shipped), Session(hostile)
    seen = 0
    for symptom in ("crack", "fine-scratches", "haze", "fumes", "stone-hot", "grabs"):
        for stone in ("opal", "fluorite", "malachite", None):
            asked = Case(material=stone, symptoms=(symptom,) if symptom in shipped.symptoms else ("haze",))
            before, after = plain.quick(asked), moved.quick(asked)
            assert {(v.remedy, v.because) for v in after.vetoed} == {(v.remedy, v.because) for v in before.vetoed}
            said, still = plain.prepare(asked).conclusions, moved.prepare(asked).conclusions
            assert (still.vetoes, still.cautions, still.ruled_out) == (said.vetoes, said.cautions, said.ruled_out)
            assert not {s.remedy for s in after.plan} & {v.remedy for v in after.vetoed}
            assert all(0 < c.probability < 1 for c in after.causes)
            seen += len(after.vetoed)
    assert seen > 20


def test_the_answer_says_that_a_guild_counts() -> None:
    known = knowledge(**with_guild())
    told = Session(known).quick(case(symptoms=("haze",))).record
    lines = answer_lines(told, known)
    assert lines[0] == "A guild's experience counts here (12 benches, 2026-Q2)."
    assert any("30 % as shipped, 90 % by the guild" in line for line in lines)


# --- taking and putting away ----------------------------------------------------------------------------------


@pytest.fixture(autouse=True)
def small_base(request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The sample in place of the shipped files for what goes through the commands: it is read in no time."""
    if "capsys" in request.fixturenames:
        found = base_files(tmp_path / "sample")
        monkeypatch.setattr(files, "shipped_files", lambda: found)


GOOD = """
experience:
  all:
    benches: 40
    made: 2026-Q2
    knowledge: 'abc'
    fixes:
      wash:
        clog: 0.31 (0.3 to 0.32) of 2000
    causes:
      clog: 3.2 (3 to 3.4) of 900
"""


def test_a_file_is_taken_moves_the_advice_and_is_gone_again(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "experience.yaml"
    file.write_text(GOOD)
    data = str(tmp_path / "data")

    code, out, err = run(capsys, "knowledge", "add", str(file), "--data", data)
    assert code == 0, err
    assert "40 benches, 2026-Q2" in out
    learned = fix_chances(None, load(folders(data)).knowledge)
    assert learned.fix("wash", "clog") == pytest.approx(0.31, abs=0.02)
    code, out, _ = run(capsys, "knowledge", "show", "wash", "--data", data)
    assert "your record and the guild" in out
    head = next(line for line in out.splitlines() if line.split() == ["shipped", "guild", "yours", "together"])
    row = next(line for line in out.splitlines() if "31 % of 2000" in line)
    assert [row.index(x) for x in ("60 %", "31 % of 2000", "-  ")] == [
        head.index(x) for x in ("shipped", "guild", "yours")
    ]
    assert all(len(line) <= 100 for line in (head, row))
    file.write_text(GOOD.replace("0.31", "0.305"))
    code, out, _ = run(capsys, "knowledge", "add", str(file), "--data", data, "--json")
    assert Path(json.loads(out)["set_aside"]).read_text() == GOOD
    code, out, _ = run(capsys, "knowledge", "remove", "experience.yaml", "--data", data)
    assert code == 0
    assert own_files(folders(data)) == ()
    assert len(list((tmp_path / "data" / "set-aside").iterdir())) == 2
    assert run(capsys, "knowledge", "remove", "experience.yaml", "--data", data)[0] == 1


BAD = {
    "one": ("0.31 (0.3 to 0.32)", "1 (0.9 to 1)"),
    "zero": ("0.31 (0.3 to 0.32)", "0 (0 to 0.1)"),
    "beyond": ("0.31 (0.3 to 0.32)", "7 (6 to 8)"),
    "outside-its-range": ("0.31 (0.3 to 0.32)", "0.31 (0.4 to 0.5)"),
    "no-trials": ("of 2000", "of 0"),
    "too-many-trials": ("of 2000", "of 9999999999"),
    "infinite": ("of 2000", "of inf"),
    "exponent": ("of 2000", "of 1e5"),
    "negative": ("of 2000", "of -5"),
    "a-list": ("0.31 (0.3 to 0.32) of 2000", "[0.31, 2000]"),
    "factor": ("3.2 (3 to 3.4)", "500 (400 to 600)"),
    "no-factor": ("3.2 (3 to 3.4)", "0 (0 to 1)"),
    "a-veto": ("    fixes:", "    veto: [wash]\n    fixes:"),
    "other-group": ("  all:", "  own.my-lap:"),
    "path": ("  all:", "  material.../../x:"),
    "anchor": ("  all:", "  all: &a"),
    "tag": ("0.31 (0.3 to 0.32) of 2000", "!!python/object:os.system x"),
    "cut": ("of 2000\n", "of"),
    "other-list": ("experience:", "experiences:"),
}


@pytest.mark.parametrize("name", BAD)
def test_a_damaged_or_hostile_file_is_refused_whole(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    old, new = BAD[name]
    assert old in GOOD
    file = tmp_path / "experience.yaml"
    file.write_text(GOOD.replace(old, new, 1))
    code, _, err = run(capsys, "knowledge", "add", str(file), "--data", str(tmp_path / "data"))
    assert code in (2, 3)
    assert "experience.yaml" in err
    assert "Traceback" not in err
    assert not (tmp_path / "data" / "knowledge").exists()


@pytest.mark.parametrize(
    ("data", "code"),
    [(b"", 2), (b"\0\xff" * 50, 3), (b"x: " * 400_000, 3), (b"- 1", 3)],
    ids=["empty", "zeros", "long", "list"],
)
def test_what_is_no_knowledge_file_is_refused(
    data: bytes, code: int, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "experience.yaml"
    file.write_bytes(data)
    assert run(capsys, "knowledge", "add", str(file), "--data", str(tmp_path / "data"))[0] == code


def test_a_file_that_holds_more_than_experience_is_said_and_asked_for(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Rules that come under the name of an experience file are not taken unseen."""
    file = tmp_path / "experience.yaml"
    stone = "\nmaterials:\n  opal: {label: Opal, rank: family, formula: SiO2}\n"
    lap = "\nlaps:\n  my-lap: {label: Mine, about: mine, hardness: 4, carries: [], rpm: [9, 200], source: practice}\n"
    file.write_text(GOOD + lap)
    code, out, err = run(capsys, "knowledge", "add", str(file), "--data", str(tmp_path / "data"))
    assert code == 2, err
    assert "1 laps" in out
    assert "--yes" in err
    assert not (tmp_path / "data" / "knowledge").exists()
    assert run(capsys, "knowledge", "add", str(file), "--data", str(tmp_path / "data"), "--yes")[0] == 0
    file.write_text(GOOD + stone)
    assert run(capsys, "knowledge", "add", str(file), "--data", str(tmp_path / "other"), "--yes")[0] == 3


def test_what_is_unknown_in_a_file_is_told_and_does_not_count(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "experience.yaml"
    row = "0.5 (0.4 to 0.6) of 10"
    file.write_text(GOOD + f"  material.moonrock:\n    fixes:\n      wash:\n        clog: {row}\n")
    code, out, _ = run(capsys, "knowledge", "add", str(file), "--data", str(tmp_path / "data"))
    assert code == 0
    assert "material.moonrock" in out
