"""Own files that ask too much, cannot be reached or replace what protects: said with file and line, advice goes on."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace

import pytest
from tests.unit import shipped
from tests.unit.knowledge_samples import folders_at

from lapwise.engine.case import Case
from lapwise.engine.diagnosis import diagnose
from lapwise.engine.folders import Folders
from lapwise.engine.knowledge.loader import Loaded, load
from lapwise.tui.cli.main import main

CASE = Case("quartz", "acrylic-lap", "cerium-oxide", symptoms=("fine-scratches",))
THEN = "    then: {for: {loaded-lap: slightly}}\n    because: It is so.\n    source: practice\n"
ANY = "      - any: [{lap: tin-lap}, {lap: zinc-lap}, {lap: copper-lap}]\n"
GOOD = "  good:\n    when: [{material: quartz}]\n" + THEN


def loaded(tmp_path: Path, **texts: str) -> tuple[Folders, Loaded]:
    """The knowledge with own files, each named by its folder."""
    where = folders_at(tmp_path)
    for folder, text in texts.items():
        (where.data / folder).mkdir(parents=True, exist_ok=True)
        (where.data / folder / "mine.yaml").write_text(text, encoding="utf-8")
    return where, load(where)


def rule(*conditions: str) -> str:
    return "  big:\n    when:\n" + "".join(conditions) + THEN


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (rule(*[ANY] * 6), "can be met in 729 ways; at most 256"),
        (rule(*(f"      - not: {{mohs: {{at_least: {n}}}}}\n" for n in range(400))), "asks 400 things; at most 40"),
        (rule(*(f"      - mohs: {{at_least: {n}}}\n" for n in range(5000))), "a list holds 500 items at most"),
        (rule("      - lap: [" + ", ".join(f"x{n}" for n in range(20_000)) + "]\n"), "a list holds 500 items at most"),
    ],
    ids=["ways", "nots", "bounds", "words"],
)
def test_a_rule_that_asks_too_much_is_left_out_with_its_line(tmp_path: Path, text: str, words: str) -> None:
    began = time.process_time()
    _, found = loaded(tmp_path, rules="rules:\n" + text + GOOD)
    assert words in str(found.problems[0])
    assert "mine.yaml:" in found.problems[0].where
    assert "big" not in found.knowledge.rules
    assert "good" in found.knowledge.rules
    assert diagnose(CASE, found.knowledge).plan
    assert time.process_time() - began < 20, "a guard against the square of the size, not a measurement"


@pytest.mark.parametrize("first", ["quartz", "no-such-stone"])
def test_a_long_line_of_parents_is_refused_in_one_round(tmp_path: Path, first: str) -> None:
    parents = [first, *(f"m{n}" for n in range(799))]
    text = "".join(f"  m{n}: {{label: M, rank: variety, parent: {parent}}}\n" for n, parent in enumerate(parents))
    began = time.process_time()
    _, found = loaded(tmp_path, knowledge="materials:\n" + text)
    assert any("too many parents in a row" in str(p) for p in found.problems)
    assert "m700" not in found.knowledge.materials
    assert time.process_time() - began < 20


def test_entries_that_hang_on_each_other_in_a_long_row(tmp_path: Path) -> None:
    text = "".join(
        f"  s{n}: {{label: S, about: S., how: S., not_to_confuse: {{s{n + 1}: they differ}}}}\n" for n in range(40)
    )
    _, found = loaded(tmp_path, knowledge="symptoms:\n" + text)
    assert any("none of your own are used" in str(p) for p in found.problems)
    assert "quartz" in found.knowledge.materials


def test_own_rules_are_read_up_to_a_number(tmp_path: Path) -> None:
    text = "".join(f"  r{n}:\n    when: [{{mohs: {{at_least: 0.{n}}}}}]\n{THEN}" for n in range(600))
    _, found = loaded(tmp_path, rules="rules:\n" + text)
    (problem,) = found.problems
    assert "more than 500 rules of your own" in problem.what
    assert problem.where.endswith("rules.r500")
    assert "r499" in found.knowledge.rules


def test_a_file_full_of_faults_is_not_read_to_its_end(tmp_path: Path) -> None:
    text = GOOD + "".join(f"  bad{n}:\n    whne: [{{material: quartz}}]\n{THEN}" for n in range(3000))
    _, found = loaded(tmp_path, rules="rules:\n" + text)
    assert "good" in found.knowledge.rules
    assert len(found.problems) < 250
    assert any("the rest of this list is not read" in str(p) for p in found.problems)


# --- folders and the cache -----------------------------------------------------------------------------------------


def closed(folder: Path) -> None:
    folder.rename(folder.with_name("elsewhere"))
    folder.symlink_to(folder)  # a folder nobody can open, whoever runs the tests


def linked_to_itself(folder: Path) -> None:
    (folder / "again").symlink_to(folder, target_is_directory=True)


def linked_to_nothing(folder: Path) -> None:
    (folder / "mine.yaml").unlink()
    folder.rmdir()
    folder.symlink_to(folder.with_name("gone"))


def no_folder(folder: Path) -> None:
    (folder / "mine.yaml").unlink()
    folder.rmdir()
    folder.write_text("")


def nested(folder: Path) -> None:
    # no deeper: a tree of 1,200, which stopped the recursion there was, is more than pytest can take away again
    folder.joinpath(*["inner"] * 60).mkdir(parents=True)


@pytest.mark.parametrize(
    ("spoil", "words", "stays"),
    [
        (closed, "cannot be read", False),
        (linked_to_itself, "already been read", True),
        (linked_to_nothing, "a folder that is not there", False),
        (no_folder, "cannot be read", False),
        (nested, "too deep", True),
    ],
)
def test_a_folder_that_cannot_be_read_is_said_in_one_line_and_advice_goes_on(
    tmp_path: Path, spoil: Callable[[Path], None], words: str, stays: bool
) -> None:
    where, _ = loaded(tmp_path, rules="rules:\n" + GOOD)
    spoil(where.own_rules)
    for _ in range(2):  # the second time from the cache
        found = load(where)
        (problem,) = found.problems
        assert words in str(problem)
        assert "nothing in it is used" in problem.what
        assert str(where.own_rules) in problem.where
        assert ("good" in found.knowledge.rules) is stays
    assert diagnose(CASE, found.knowledge).plan


def test_a_folder_without_permission_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    where, _ = loaded(tmp_path, rules="rules:\n" + GOOD)
    scan = os.scandir

    def denied(path: Path) -> os._ScandirIterator[str]:
        if str(path) == str(where.own_rules):
            raise PermissionError(13, "Permission denied", str(path))
        return scan(path)  # type: ignore[return-value]

    monkeypatch.setattr(os, "scandir", denied)
    (problem,) = load(where).problems
    assert "Permission denied" in problem.what


def test_a_file_without_permission_is_said_and_the_others_count(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    where, _ = loaded(tmp_path, rules="rules:\n" + GOOD)
    shut, real = where.own_rules / "shut.yaml", Path.open
    shut.write_text("rules: {}\n")

    def denied(path: Path, *args: object, **options: object) -> object:
        if path == shut:
            raise PermissionError(13, "Permission denied", str(path))
        return real(path, *args, **options)  # type: ignore[call-overload]

    monkeypatch.setattr(Path, "open", denied)
    found = load(where)
    (problem,) = found.problems
    assert "Permission denied" in problem.what
    assert problem.where == str(shut)
    assert "good" in found.knowledge.rules


@pytest.mark.parametrize("shut", ["what is in it", "the folder it lies in"])
def test_a_closed_data_folder_leaves_the_shipped_advice(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], shut: str
) -> None:
    where, _ = loaded(tmp_path, rules="rules:\n" + GOOD)
    below = str(where.data) + (os.sep if shut == "what is in it" else "")
    for name in ("stat", "scandir"):
        real = getattr(os, name)

        def denied(path: object, *args: object, real: Callable[..., object] = real, **options: object) -> object:
            if isinstance(path, str | os.PathLike) and str(path).startswith(below):
                raise PermissionError(13, "Permission denied", str(path))
            return real(path, *args, **options)

        monkeypatch.setattr(os, name, denied)
    with pytest.raises(SystemExit) as ended:
        main(["diagnose", "--data", str(where.data), "--material", "quartz", "--symptom", "fine-scratches"])
    told = capsys.readouterr()
    assert ended.value.code == 0, told.err
    assert told.out
    for place in (where.own_rules, where.own_knowledge, where.record):
        assert sum(str(place) in line for line in told.err.splitlines()) == 1, told.err


def test_rules_in_a_linked_folder_count(tmp_path: Path) -> None:
    where, _ = loaded(tmp_path / "bench", elsewhere="rules:\n" + GOOD)
    where.own_rules.mkdir()
    (where.own_rules / "shared").symlink_to(where.data / "elsewhere", target_is_directory=True)
    found = load(where)
    assert not found.problems
    assert "good" in found.knowledge.rules


def test_a_change_that_keeps_size_and_times_is_seen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    where, _ = loaded(tmp_path, rules="rules:\n" + GOOD)
    file = where.own_rules / "mine.yaml"
    before, real = os.stat(file), os.stat

    def same_times(path: object, *args: object, **options: object) -> object:
        """Two changes within one tick of the disk's clock, which nobody can set back."""
        found = real(path, *args, **options)  # type: ignore[call-overload]
        if path != file:
            return found
        kept = {name: getattr(found, name) for name in dir(found) if name.startswith("st_")}
        return SimpleNamespace(**{**kept, "st_mtime_ns": before.st_mtime_ns, "st_ctime_ns": before.st_ctime_ns})

    monkeypatch.setattr(os, "stat", same_times)
    assert load(where).knowledge.rules["good"].then.evidence_for == {"loaded-lap": "slightly"}
    file.write_text(file.read_text().replace("loaded-lap: slightly", "stray-grit: slightly"))
    assert file.stat().st_size == before.st_size
    assert load(where).knowledge.rules["good"].then.evidence_for == {"stray-grit": "slightly"}


# --- what protects ---------------------------------------------------------------------------------------------------


def test_a_shipped_caution_cannot_be_emptied_only_added_to(tmp_path: Path) -> None:
    dust = shipped.knowledge().cautions["silica-dust"]
    own = "  silica-dust: {label: Dust, hazard: None., action: Mine., source: practice}\n"
    where, found = loaded(tmp_path, knowledge="cautions:\n" + own)
    for _ in range(2):  # the second time from the cache
        caution = found.knowledge.cautions["silica-dust"]
        assert caution.hazard == f"{dust.hazard} None."
        assert caution.action.startswith(dust.action)
        assert caution.standard == dust.standard
        assert caution.general == dust.general
        answer = diagnose(CASE, found.knowledge)
        assert any("'silica-dust' is added to the shipped one" in text for text in answer.replaced)
        found = load(where)


def test_an_own_stone_keeps_the_shipped_cautions_and_what_it_says_otherwise_is_said(tmp_path: Path) -> None:
    before = shipped.knowledge().materials["quartz"]
    assert before.cautions
    assert before.heat is not None
    own = (
        "  quartz:\n    label: Quartz\n    rank: species\n    formula: SiO2\n    crystal_system: trigonal\n"
        "    mohs: {low: 7, high: 7, unit: Mohs, source: practice}\n"
        "    polishes_with: [{laps: [tin-lap], compounds: [cerium-oxide], source: practice}]\n"
    )
    _, found = loaded(tmp_path, knowledge="materials:\n" + own)
    assert not found.problems
    assert set(before.cautions) <= set(found.knowledge.materials["quartz"].cautions)
    amethyst = shipped.knowledge().materials["amethyst"]
    assert set(amethyst.cautions) <= set(found.knowledge.materials["amethyst"].cautions), "and what inherits from it"
    told = " ".join(diagnose(CASE, found.knowledge).replaced)
    assert "heat" in told
    assert "mine.yaml:2" in told
    assert not diagnose(Case("topaz", symptoms=("fine-scratches",)), found.knowledge).replaced


def test_an_own_rule_in_the_place_of_a_veto_is_said_where_the_veto_would_have_spoken(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rule = shipped.knowledge().rules["no-force-on-cracks"]
    assert rule.then.vetoes
    where, found = loaded(tmp_path, rules=f"rules:\n  {rule.id}:\n    when: [{{material: zircon}}]\n{THEN}")
    cracked, hazy = Case("quartz", symptoms=("cracks",)), Case("zircon", symptoms=("haze",))
    said = diagnose(cracked, found.knowledge).replaced
    assert any(f"'{rule.id}' takes the place" in text for text in said)
    assert not diagnose(hazy, found.knowledge).replaced
    for words in (["knowledge", "check"], ["diagnose", "--material", "quartz", "--symptom", "cracks"]):
        with pytest.raises(SystemExit):
            main([*words, "--data", str(where.data)])
        assert "the place of a shipped one that forbids" in " ".join(capsys.readouterr().out.split())


def test_the_caution_of_a_shipped_rule_stays_beside_an_own_one(tmp_path: Path) -> None:
    rule = next(r for r in shipped.knowledge().rules.values() if r.then.cautions)
    _, found = loaded(tmp_path, rules=f"rules:\n  {rule.id}:\n    when: [{{material: zircon}}]\n{THEN}")
    assert not found.problems
    stays = found.knowledge.rules[f"{rule.id}.shipped"]
    assert stays.when == rule.when
    assert stays.then.cautions == rule.then.cautions
    assert not stays.then.vetoes
