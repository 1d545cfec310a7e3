"""Loading: inheritance, own files over the shipped ones, tiers, the cache, and what happens when files are bad."""

from __future__ import annotations

import json
import os
import random
import subprocess
import sys
from pathlib import Path

import pytest
from tests.unit.knowledge_oracle import ORACLE, found
from tests.unit.knowledge_samples import BASE, RULES, base_files, folders_at, load_sample, mutated, write

from lapwise.engine.errors import Damaged
from lapwise.engine.knowledge import cache, files, loader, rule_model
from lapwise.engine.knowledge.reader import MAX_BYTES
from lapwise.engine.knowledge.rule_model import AnyOf, Not


def test_a_child_says_only_what_differs(tmp_path: Path) -> None:
    known = load_sample(tmp_path).knowledge.materials
    sky = known["sky-glimmer"]
    assert sky.line == ("sky-glimmer", "blue-glimmer", "glimmer")
    assert sky.formula == "SiO2"
    assert sky.mohs is not None
    assert (sky.mohs.low, sky.mohs.memory) == (7, True)
    assert sky.traits == {"glassy-kind", "flawed-kind"}, "traits are added"
    assert sky.cautions == ("splinters", "dust"), "cautions are added"
    assert sky.polishes_with == known["glimmer"].polishes_with
    assert known["blue-glimmer"].mohs == known["glimmer"].mohs
    assert known["blue-glimmer"].also == ("bluestone",)


def test_an_empty_list_is_a_statement(tmp_path: Path) -> None:
    text = BASE.replace("traits: [flawed-kind], also", "avoid: [], traits: [flawed-kind], also")
    known = load_sample(tmp_path, base=text).knowledge.materials
    assert known["glimmer"].avoid
    assert known["blue-glimmer"].avoid == ()
    assert known["sky-glimmer"].avoid == ()


def test_conditions_become_tests(tmp_path: Path) -> None:
    rules = load_sample(tmp_path).knowledge.rules
    first, either = rules["shared-is-dirty"].when.parts
    assert first == rule_model.Test("lap_shared", any_of=("yes",))
    assert isinstance(either, AnyOf)
    assert [len(option.parts) for option in either.options] == [1, 2]
    no_oil, low, high = rules["oil-hides-it"].when.parts
    assert no_oil == Not(rule_model.Test("carrier", any_of=("oil",)))
    assert (low, high) == (rule_model.Test("mohs", at_least=6.0), rule_model.Test("mohs", below=8.0)), (
        "one bound in each test"
    )
    assert rules["shared-is-dirty"].theme == "rules"
    assert rules["soft-stone-no-swap"].cautious
    assert not rules["dirty-is-grit"].cautious


def test_tiers_follow_the_findings(tmp_path: Path) -> None:
    more = BASE.replace("findings:\n", "findings:\n  worse-yet: {label: very dirty}\n")
    rules = (
        RULES
        + """
  dirty-and-dry:
    when: [{any: [{finding: dirty}, {wetness: dry}]}, {pressure: heavy}]
    then: {finding: [worse-yet]}
    because: It grinds itself in.
    source: practice
  worse-is-clog:
    when: [{finding: worse-yet}]
    then: {for: {clog: slightly}}
    because: It cakes in the end.
    source: practice
"""
    )
    known = load_sample(tmp_path, base=more, rules=rules).knowledge.rules
    tiers = {name: known[name].tier for name in ("shared-is-dirty", "dirty-is-grit", "dirty-and-dry", "worse-is-clog")}
    assert tiers == {"shared-is-dirty": 0, "dirty-is-grit": 1, "dirty-and-dry": 1, "worse-is-clog": 2}


def test_variables(tmp_path: Path) -> None:
    rules = (
        RULES
        + """
  same-lap:
    when: [{lap: {same: x}}, {prior_lap: {same: x}}]
    then: {for: {grit: slightly}}
    because: The old grains are still on it.
    source: practice
"""
    )
    parts = load_sample(tmp_path, rules=rules).knowledge.rules["same-lap"].when.parts
    assert parts == (rule_model.Test("lap", bind="x"), rule_model.Test("prior_lap", bind="x"))


def test_own_entries_replace_and_add(tmp_path: Path) -> None:
    own = write(
        tmp_path / "own",
        stones="""
materials:
  blue-glimmer: {label: My blue glimmer, rank: species, parent: glimmer, traits: []}
  my-glimmer: {label: Mine, rank: variety, parent: blue-glimmer}
laps:
  my-disc: {label: Mine, about: A., hardness: 3, carries: [oxide], rpm: [10, 20], source: practice}
scales:
  strength: {judgement: Bolder., words: {strongly: 3, moderately: 2, slightly: 1}}
""",
        rules="""
rules:
  dirty-is-grit:
    when: [{finding: dirty}, {lap: my-disc}]
    then: {for: {grit: slightly}}
    because: On my disc it is not so bad.
    source: practice
""",
    )
    loaded = load_sample(tmp_path, own)
    known = loaded.knowledge
    assert loaded.problems == ()
    assert known.materials["blue-glimmer"].label == "My blue glimmer"
    assert known.materials["blue-glimmer"].place.own
    assert known.materials["sky-glimmer"].traits == {"glassy-kind"}, "the shipped child inherits from the own parent"
    assert known.materials["my-glimmer"].formula == "SiO2"
    assert known.laps["my-disc"].place.own
    assert known.scales.strength["strongly"] == 3
    assert known.scales.chance["always"] == 0.98
    assert known.rules["dirty-is-grit"].then.evidence_for == {"grit": "slightly"}
    assert known.rules["dirty-is-grit"].tier == 1
    plain = load_sample(tmp_path / "other").knowledge
    assert plain.digest != known.digest
    assert list(known.materials)[: len(plain.materials)] == list(plain.materials)


def test_a_bad_own_entry_falls_back_to_the_shipped_one_and_takes_along_what_rests_on_it(tmp_path: Path) -> None:
    own = write(
        tmp_path / "own",
        a="materials:\n  glimmer: {label: Mine, rank: family, formula: X, crystal_system: cubic, traits: [nonsense]}\n",
        b="""
materials:
  mine-a: {label: A, rank: species, parent: nowhere, formula: X, crystal_system: cubic}
  mine-b: {label: B, rank: variety, parent: mine-a}
  mine-c: {label: C, rank: variety, parent: glimmer}
""",
    )
    loaded = load_sample(tmp_path, own)
    known = loaded.knowledge.materials
    assert known["glimmer"].label == "Glimmer"
    assert "mine-a" not in known
    assert "mine-b" not in known
    assert "mine-c" in known
    said = "\n".join(map(str, loaded.problems))
    for words in ("nonsense", "nowhere", "mine-a"):
        assert words in said


@pytest.mark.parametrize(
    ("name", "data"),
    [("bad", b"materials: [\n"), ("latin", b"findings: {a: {label: \xe9}}\n"), ("huge", b"#" * (MAX_BYTES + 5))],
    ids=["bad", "latin", "huge"],
)
def test_an_unreadable_own_file_never_takes_the_rest_down(tmp_path: Path, name: str, data: bytes) -> None:
    own = write(tmp_path / "own", good="findings:\n  mine: {label: My finding}\n")
    (own / "knowledge" / f"{name}.yaml").write_bytes(data)
    (own / "knowledge" / "gone.yaml").symlink_to(tmp_path / "nowhere")
    (own / "knowledge" / "folder.yaml").mkdir()
    os.mkfifo(own / "knowledge" / "pipe.yaml")
    loaded = load_sample(tmp_path, own)
    assert "mine" in loaded.knowledge.findings
    assert "glimmer" in loaded.knowledge.materials
    said = {p.where.split(":")[0].rsplit("/", 1)[-1] for p in loaded.problems}
    assert {f"{name}.yaml", "gone.yaml", "pipe.yaml"} <= said


@pytest.mark.parametrize("seed", range(6))
def test_own_files_with_small_faults_never_take_the_shipped_knowledge_down(seed: int, tmp_path: Path) -> None:
    """The whole sample laid over itself with faults: every list is replaced, much of it wrongly."""
    chance = random.Random(seed)
    shipped = base_files(tmp_path)
    whole = loader.build(shipped, ()).knowledge
    for number in range(12):
        own = write(tmp_path / f"own{number}", base=mutated(BASE, chance), rules=mutated(RULES, chance))
        loaded = loader.build(shipped, files.files_in(own))
        for list_ in ("materials", "laps", "causes", "remedies", "looks", "rules", "sources"):
            assert set(getattr(whole, list_)) <= set(getattr(loaded.knowledge, list_))
        # Whatever was taken over fits together: nothing names an id that is not there, no rule waits for itself.
        assert found(loaded.knowledge, *(c.name for c in ORACLE)) == set()
        assert all(p.where for p in loaded.problems)


def test_bad_shipped_files_are_damage_with_every_problem(tmp_path: Path) -> None:
    text = BASE.replace("kind: carbide", "kind: carbid").replace("traits: [stiff]", "traits: [stif]")
    with pytest.raises(Damaged) as error:
        load_sample(tmp_path, base=text)
    assert error.value.exit_code == 3
    said = str(error.value)
    assert "did you mean carbide" in said
    assert "did you mean stiff" in said
    with pytest.raises(Damaged, match="'strength' is missing"):
        load_sample(tmp_path / "b", scales="scales: {}\n")


def test_ids_are_unique_over_all_lists(tmp_path: Path) -> None:
    with pytest.raises(Damaged, match=r"already used in .*base.yaml, line .*, among the causes"):
        load_sample(tmp_path, base=BASE + "  grit: {cite: x, status: read}\n")


# --- the cache -----------------------------------------------------------------------------------------------


@pytest.fixture
def as_shipped(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The sample stands in for the shipped files."""
    found = base_files(tmp_path)
    monkeypatch.setattr(files, "shipped_files", lambda: found)
    return tmp_path


def test_what_was_cached_equals_what_was_read(as_shipped: Path) -> None:
    where = folders_at(as_shipped / "data")
    write(where.data, mine="findings:\n  mine: {label: one, nonsense: 2}\n")
    first = loader.load(where)
    assert (where.cache / cache.NAME).exists()
    second = loader.load(where)
    assert first == second
    assert first.problems
    assert list(first.knowledge.rules) == list(second.knowledge.rules)
    assert type(second.knowledge.rules["dirty-is-grit"].then.evidence_for) is type(
        first.knowledge.rules["dirty-is-grit"].then.evidence_for
    )


def test_a_warm_start_reads_no_yaml(as_shipped: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    where = folders_at(as_shipped / "data")
    loader.load(where)
    monkeypatch.setattr(loader, "build", lambda *a: pytest.fail("the files were read again"))
    loader.load(where)


def test_a_changed_file_is_seen_at_once(as_shipped: Path) -> None:
    where = folders_at(as_shipped / "data")
    write(where.data, mine="findings:\n  mine: {label: one}\n")
    before = loader.load(where).knowledge
    write(where.data, mine="findings:\n  mine: {label: two}\n")
    after = loader.load(where).knowledge
    assert (before.findings["mine"].label, after.findings["mine"].label) == ("one", "two")
    assert before.digest != after.digest
    (where.own_knowledge / "mine.yaml").unlink()
    assert "mine" not in loader.load(where).knowledge.findings


def _spoil(how: str, path: Path) -> None:
    data = path.read_bytes()
    head, _, body = data.partition(b"\n")
    if how == "cut":
        path.write_bytes(data[: len(data) // 2])
    elif how == "empty":
        path.write_bytes(b"")
    elif how == "bit":
        path.write_bytes(data[:-40] + bytes([data[-40] ^ 1]) + data[-39:])
    else:
        other = {"shape": b'{"a": 1}', "class": b"[999, 1]", "list": b"[]", "text": b'["x"]', "deep": b"[" * 99999}[how]
        stamp = head.split()[0].decode()
        path.write_bytes(f"{stamp} {cache._sum(other)}\n".encode() + other)
    assert body


@pytest.mark.parametrize("how", ["cut", "empty", "bit", "shape", "class", "list", "text", "deep"])
def test_a_damaged_cache_is_ignored(as_shipped: Path, how: str) -> None:
    where = folders_at(as_shipped / "data")
    first = loader.load(where)
    _spoil(how, where.cache / cache.NAME)
    assert loader.load(where) == first
    assert loader.load(where) == first


def test_a_cache_that_cannot_be_written_is_no_error(as_shipped: Path) -> None:
    where = folders_at(as_shipped / "data")
    where.data.mkdir()
    where.cache.write_text("in the way")
    assert loader.load(where).knowledge.materials
    assert where.cache.read_text() == "in the way"


def test_the_cache_holds_data_and_no_code(as_shipped: Path) -> None:
    where = folders_at(as_shipped / "data")
    loader.load(where)
    head, _, body = (where.cache / cache.NAME).read_bytes().partition(b"\n")
    assert len(head.split()) == 2
    assert json.loads(body)
    assert not list(where.cache.glob("*.part"))


def test_the_digest_depends_on_content_only(tmp_path: Path) -> None:
    one = load_sample(tmp_path / "a").knowledge.digest
    again = files.digest([("x", b"1"), ("y", b"2")])
    assert again != files.digest([("x", b"1y"), ("", b"2")])
    assert len(one) == 32


# --- the shipped files ---------------------------------------------------------------------------------------


def test_shipped_files_load_alike_whatever_the_hash_seed() -> None:
    code = (
        "from lapwise.engine.knowledge.loader import load; k = load().knowledge;"
        "from lapwise.engine.knowledge.cache import _plain; import hashlib, json;"
        "print(k.digest, hashlib.sha256(json.dumps(_plain(k)).encode()).hexdigest())"
    )
    said = {
        subprocess.run(
            [sys.executable, "-c", code], env=os.environ | {"PYTHONHASHSEED": seed}, capture_output=True, check=True
        ).stdout
        for seed in ("0", "1")
    }
    assert len(said) == 1


def test_shipped_scales_are_judgement_with_a_sentence() -> None:
    scales = loader.load().knowledge.scales
    assert set(scales.because) >= {"chance", "strength", "frequency", "background", "other_share"}
    begins = ("Judgement.", "Fitted to the panels' opinions.")
    assert all(text.startswith(begins) and len(text.split()) > 8 for text in scales.because.values())
    assert scales.unexplained == scales.chance["never"]
    assert scales.background == scales.chance["rarely"]
