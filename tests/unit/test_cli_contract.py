"""The command line as a promise: exit codes, streams, help, terminals and folders that misbehave. Never a traceback."""

from __future__ import annotations

import json
import os
import shlex
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import click
import pytest
from tests.unit import shipped

from lapwise.tui.cli.main import cli

Run = Callable[..., tuple[int, str, str]]
TOPAZ = (
    "--material",
    "topaz",
    "--lap",
    "tin-lap",
    "--compound",
    "aluminium-oxide",
    "--symptom",
    "fine-scratches",
)


def process(*argv: str, data: Path, **env: str) -> subprocess.CompletedProcess[bytes]:
    """The command as its own process, as a shell starts it."""
    start = "from lapwise.tui.cli.main import main; main()"
    known = {"PATH": os.environ["PATH"], "PYTHONPATH": os.pathsep.join(sys.path), "LAPWISE_DATA": str(data)}
    done = subprocess.run(
        [sys.executable, "-c", start, *argv], env={**known, **env}, capture_output=True, timeout=120, check=False
    )
    assert b"Traceback" not in done.stderr
    return done


# --- help -------------------------------------------------------------------------------------------------------


def commands(group: click.Group, path: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], click.Command]]:
    with click.Context(group) as context:
        for name in group.list_commands(context):
            command = group.get_command(context, name)
            assert command is not None
            yield (*path, name), command
            if isinstance(command, click.Group):
                yield from commands(command, (*path, name))


COMMANDS = dict(commands(cli))


@pytest.mark.parametrize("path", COMMANDS, ids=" ".join)
def test_every_command_explains_itself_and_every_option(path: tuple[str, ...], run: Run) -> None:
    code, out, err = run(*path, "--help")
    assert code == 0, err
    assert out.startswith("Usage: lapwise " + " ".join(path))
    for param in COMMANDS[path].params:
        if isinstance(param, click.Option) and not param.hidden:
            assert param.help, f"{' '.join(path)} {param.opts[0]} has no help"
    assert (COMMANDS[path].help or "").strip()


@pytest.mark.parametrize(
    "path", [p for p, c in COMMANDS.items() if not isinstance(c, click.Group) or c.invoke_without_command], ids=" ".join
)
def test_every_command_takes_json_and_data(path: tuple[str, ...]) -> None:
    options = {o for param in COMMANDS[path].params for o in param.opts}
    assert {"--json", "--data"} <= options


# --- data on stdout, errors on stderr ----------------------------------------------------------------------------

REFUSED = [
    (("diagnose", "--material", "topaz", "--fact", "speed=300mm"), "speed"),
    (("diagnose", "--material", "topaz", "--fact", "speed=0"), "speed"),
    (("diagnose", "--material", "topaz", "--fact", "cleavage_angle=5mm"), "cleavage_angle"),
    (("diagnose", "--material", "topaz", "--fact", "cleavage_angle=91"), "cleavage_angle"),
    (("diagnose", "--material", "topaz", "--fact", "facet_size=0x6mm"), "facet_size"),
    (("diagnose", "--material", "topaz", "--fact", "wetness=wet", "--fact", "wetness=dry"), "wetness"),
    (("diagnose", "--material", "topaz", "--fact", "facet_size=small", "--size", "20x20"), "--size"),
    (("diagnose", "--material", "topaz", "--fact", "facet_part=table", "--part", "girdle"), "--part"),
    (("diagnose", "--material", "topaz", "--prior", "diamond-600", "--fact", "prior=diamond-1200"), "--prior"),
    (("diagnose", "--material", "topaz", "--fact", "cleavage_angle=3", "--fact", "cleavage_near=no"), "near"),
    (("diagnose", "--material", "topaz", "--own-lap", "the-old-one"), "--own-lap"),
    (("diagnose", "--material", "topaz", "--tried", "clean-lap=fixed"), "--tried"),
    (("diagnose", "--material", "topaz", "--map", "XX/YY"), "--map"),
    (("explain", "loupe-check", *TOPAZ), "knowledge show"),
    (("plan", "--material", "topaz", "--laps", ""), "--laps"),
    (("knowledge",), "say which command"),
    (("diagnose", "--material", "topaz", "--data", os.devnull), "--data"),
    (("where", "--data", "~nobody-of-this-name/x"), "--data"),
]


@pytest.mark.parametrize(("argv", "named"), REFUSED)
def test_what_cannot_be_right_is_refused_and_named(run: Run, argv: tuple[str, ...], named: str) -> None:
    code, out, err = run(*argv)
    assert code == 2
    assert out == ""
    assert named in err
    if argv != ("knowledge",):
        code, out, err = run(*argv, "--json")
        assert code == 2
        assert out == ""
        assert set(json.loads(err)["error"]) == {"what", "where", "found", "allowed", "nearest"}


def test_measures_are_taken_for_what_they_are(run: Run) -> None:
    measured = ("--fact", "speed=300rpm", "--fact", "facet_size=9x6mm", "--fact", "cleavage_angle=6deg")
    code, out, err = run("diagnose", *TOPAZ, *measured, "--json")
    assert (code, err) == (0, "")
    assert json.loads(out)["case"]["facts"] == {
        "speed": "300rpm",
        "facet_size": "9x6mm",
        "cleavage_angle": "6deg",
    }


def test_a_size_told_as_a_fact_serves_the_correction_too(run: Run) -> None:
    told = ("diagnose", "--material", "topaz", "--map", "BBD/BBD/BBD", "--angle", "42", "--json")
    _, by_fact, _ = run(*told, "--fact", "facet_size=9x6mm", "--fact", "facet_part=pavilion")
    _, by_option, _ = run(*told, "--size", "9x6", "--part", "pavilion")
    assert json.loads(by_fact)["correction"] == json.loads(by_option)["correction"]


def test_an_own_lap_is_known_by_its_name_and_brings_its_type(run: Run) -> None:
    assert run("laps", "add", "Old Blue", "--type", "tin-lap", "--carries", "cerium-oxide")[0] == 0
    code, out, err = run("diagnose", "--material", "quartz", "--symptom", "haze", "--own-lap", "old blue", "--json")
    assert code == 0, err
    case = json.loads(out)["case"]
    assert (case["lap"], case["compound"]) == ("tin-lap", "cerium-oxide")
    code, _, err = run("diagnose", "--material", "quartz", "--own-lap", "Old Bleu", "--json")
    assert code == 2
    assert json.loads(err)["error"]["nearest"] == ["Old Blue"]


def test_nothing_but_words_about_it_goes_to_stderr(run: Run) -> None:
    for argv in (("diagnose", *TOPAZ), ("explain", "stray-grit", *TOPAZ), ("plan", "--material", "topaz"), ("demo",)):
        code, out, err = run(*argv, "--json")
        assert (code, err) == (0, "")
        assert isinstance(json.loads(out), dict)


# --- what a cutter reads -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("columns", [40, 60, 80, 200])
def test_no_line_is_wider_than_the_terminal(run: Run, monkeypatch: pytest.MonkeyPatch, columns: int) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    for argv in (("diagnose", *TOPAZ, "--why"), ("explain", "step-back-two", *TOPAZ), ("plan", "--material", "topaz")):
        _, out, _ = run(*argv)
        wide = [line for line in out.splitlines() if len(line) > min(columns, 100)]
        assert not wide, wide[:3]


def test_every_id_a_person_needs_to_go_on_is_on_the_screen(run: Run) -> None:
    """The next command wants ids: of the remedies shown, of the causes, of the look and its results."""
    _, out, _ = run("diagnose", *TOPAZ)
    data = json.loads(run("diagnose", *TOPAZ, "--json")[1])
    text = " ".join(out.split())
    for step in data["plan"][: min(data["worth"], 5)]:
        assert f"({step['remedy']})" in text
    for cause in data["causes"][:4]:
        assert f"({cause['id']})" in text
    assert f"--tried {data['plan'][0]['remedy']}=no-change" in text
    if data["look"]:
        assert f"--saw {data['look']['id']}=" in text
    for unknown in data["unknown_that_would_help"][:3]:
        assert unknown["question"] in text
        assert f"--fact {unknown['key']}=" in text or f"--{unknown['key']} …" in text


def test_one_reason_is_told_in_full_once(run: Run) -> None:
    seen = 0
    asked = [
        (stone, symptom)
        for stone in ("opal", "garnet", "quartz")
        for symptom in ("haze", "drags", "hot-stone", "burnt-compound", "one-direction-only", "scratches-return")
    ]
    for stone, symptom in asked:
        argv = ("diagnose", "--material", stone, "--symptom", symptom)
        answer = json.loads(run(*argv, "--json")[1])
        shown = answer["plan"][: min(answer["worth"], 5)]
        reasons = [s["because"][0] for s in shown]
        twice = [r for r in dict.fromkeys(reasons) if reasons.count(r) > 1]
        text = " ".join(run(*argv)[1].split())
        for reason in twice:
            assert text.count(reason) == 1
            _, *again = (s["remedy"] for s in shown if s["because"][0] == reason)
            assert all(shipped.knowledge().remedies[remedy].about in text for remedy in again)
        seen += len(twice)
    assert seen, "no case here has the same reason twice: choose others"


def test_a_forbidden_remedy_is_explained_without_telling_how(run: Run) -> None:
    _, out, _ = run("explain", "press-harder", "--material", "topaz", "--symptom", "cracks")
    assert "Do not do it here" in out
    assert "HOW TO DO IT" not in out
    _, out, _ = run("explain", "clean-lap", "--material", "topaz", "--symptom", "fumes")
    assert "fresh air" in out
    assert "HOW TO DO IT" not in out


def test_a_remedy_is_explained_with_its_cautions_first(run: Run) -> None:
    _, out, _ = run("explain", "recondition-lap", "--material", "quartz", "--symptom", "curved-facet")
    assert out.index("TAKE CARE") < out.index("HOW TO DO IT")
    assert "- Stop the lap." in out


# --- plans -------------------------------------------------------------------------------------------------------


def steps(run: Run, *argv: str) -> list[dict[str, Any]]:
    code, out, err = run("plan", *argv, "--json")
    assert code == 0, err
    found: list[dict[str, Any]] = json.loads(out)["steps"]
    return found


def test_one_own_lap_serves_one_step_of_a_plan(run: Run) -> None:
    """One lap, one compound: one that carried a coarser grain goes on scratching (common practice, no source)."""
    plan = steps(run, "--material", "topaz", "--laps", "plated-diamond-lap=diamond-600,plated-diamond-lap,tin-lap")
    had = [(s["lap"], s["compound"]) for s in plan if not s["missing"]]
    assert [lap for lap, _ in had].count("tin-lap") == 1
    assert had[-1] == ("tin-lap", "aluminium-oxide")


def test_a_lap_that_carries_something_else_is_not_counted_as_had(run: Run) -> None:
    plan = steps(run, "--material", "quartz", "--laps", "tin-lap=diamond-50000,plated-diamond-lap=diamond-260")
    assert all(s["missing"] for s in plan if s["lap"] == "tin-lap")
    assert [s["compound"] for s in plan if not s["missing"]] == ["diamond-260"]


def test_the_same_kind_of_lap_twice_is_said_to_be_another_one(run: Run) -> None:
    plan = steps(run, "--material", "topaz")
    assert [s["lap"] for s in plan].count("tin-lap") == 2
    assert any("Not the tin lap of an earlier step" in text for text in plan[-1]["watch"])


def test_soft_and_heat_shy_stones_run_slower(run: Run) -> None:
    assert steps(run, "--material", "fluorite")[0]["rpm"][1] < steps(run, "--material", "quartz")[0]["rpm"][1]


@pytest.mark.parametrize("material", ["opal", "emerald"])
def test_no_oil_on_stones_it_creeps_into(run: Run, material: str) -> None:
    for step in steps(run, "--material", material):
        assert "trace of oil" not in step["wetness"]


# --- terminals, pipes and folders that misbehave -------------------------------------------------------------------


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "cp1252"])
def test_a_terminal_without_unicode_gets_plain_letters(tmp_path: Path, encoding: str) -> None:
    done = process("demo", data=tmp_path / "d", PYTHONIOENCODING=encoding, PYTHONUTF8="0")
    assert done.returncode == 0
    assert b"TRY IN THIS ORDER" in done.stdout
    done.stdout.decode(encoding)


def test_json_stays_json_without_unicode(tmp_path: Path) -> None:
    done = process("diagnose", *TOPAZ, "--json", data=tmp_path / "d", PYTHONIOENCODING="ascii", PYTHONUTF8="0")
    assert done.returncode == 0
    assert "°" in json.dumps(json.loads(done.stdout), ensure_ascii=False) or json.loads(done.stdout)["plan"]


def test_the_answer_does_not_hang_on_the_hash_seed(tmp_path: Path) -> None:
    seeds = ("0", "1", "4321")
    argv = ("diagnose", *TOPAZ, "--symptom", "haze", "--why")
    assert len({process(*argv, data=tmp_path / "d", PYTHONHASHSEED=seed).stdout for seed in seeds}) == 1


@pytest.mark.skipif(os.name != "posix", reason="pipes of a POSIX shell")
def test_a_reader_that_goes_away_is_no_error(tmp_path: Path) -> None:
    start = [sys.executable, "-c", "from lapwise.tui.cli.main import main; main()", "knowledge", "list", "rules"]
    env = {**os.environ, "LAPWISE_DATA": str(tmp_path), "PYTHONPATH": os.pathsep.join(sys.path)}
    with subprocess.Popen(start, stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=env) as running:
        assert running.stdout is not None
        assert running.stderr is not None
        running.stdout.close()
        err = running.stderr.read()
        code = running.wait(timeout=120)
    assert code == 0
    assert b"Traceback" not in err
    assert b"Exception ignored" not in err


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs /dev/full")
def test_a_full_disk_under_the_answer_is_told(tmp_path: Path) -> None:
    start = [sys.executable, "-c", "from lapwise.tui.cli.main import main; main()", "where"]
    env = {**os.environ, "LAPWISE_DATA": str(tmp_path), "PYTHONPATH": os.pathsep.join(sys.path)}
    with Path("/dev/full").open("wb") as full:
        done = subprocess.run(start, stdout=full, stderr=subprocess.PIPE, env=env, timeout=120, check=False)
    assert done.returncode not in (0, 120)
    assert b"No space left" in done.stderr
    assert b"Traceback" not in done.stderr


def test_no_home_and_no_streams(tmp_path: Path) -> None:
    done = process("diagnose", *TOPAZ, data=tmp_path / "d", HOME="/nonexistent", TERM="dumb", NO_COLOR="1")
    assert done.returncode == 0
    assert b"\x1b" not in done.stdout
    start = "import sys; sys.stdout = sys.stderr = None; from lapwise.tui.cli.main import main; main(['where'])"
    env = {**os.environ, "LAPWISE_DATA": str(tmp_path), "PYTHONPATH": os.pathsep.join(sys.path)}
    assert subprocess.run([sys.executable, "-c", start], env=env, timeout=120, check=False).returncode == 0


def test_damaged_own_knowledge_is_named_and_left_out(run: Run, tmp_path: Path) -> None:
    own = tmp_path / "data" / "knowledge"
    (own / "folder.yaml").mkdir(parents=True)
    (own / "brace.yaml").write_text("materials:\n  foo: {a: b\n", encoding="utf-8")
    (own / "bytes.yaml").write_bytes(b"\xff\xfe\x00\x01")
    code, out, err = run("diagnose", *TOPAZ, "--json")
    assert code == 0
    assert json.loads(out)["plan"]
    assert "brace.yaml" in err
    assert "bytes.yaml" in err
    assert run("knowledge", "check")[0] == 3


def test_a_damaged_cache_is_made_anew(run: Run, tmp_path: Path) -> None:
    assert run("diagnose", *TOPAZ)[0] == 0
    kept = [p for p in (tmp_path / "data" / "cache").rglob("*") if p.is_file()]
    for junk in (b"", b"{", bytes(range(256)) * 20):
        for path in kept:
            path.write_bytes(junk)
        assert run("diagnose", *TOPAZ)[0] == 0


@pytest.mark.parametrize(
    "argv", [("diagnose", *TOPAZ), ("explain", "clean-lap", *TOPAZ), ("plan", "--material", "topaz")]
)
def test_a_damaged_record_takes_no_advice_down(run: Run, tmp_path: Path, argv: tuple[str, ...]) -> None:
    data = tmp_path / "data"
    (data / "record.sqlite3").mkdir()
    assert run(*argv)[0] == 0
    (data / "record.sqlite3").rmdir()
    (data / "record.sqlite3").write_bytes(b"this is no database, whatever its name says" * 40)
    code, out, err = run(*argv, "--json")
    assert code == 0
    assert json.loads(out)
    assert "damaged" in err
    code, out, err = run("record", "show", "--json")
    assert (code, out) == (3, "")
    assert "damaged" in json.loads(err)["error"]["what"]


def test_a_damaged_machine_profile_is_told(run: Run, tmp_path: Path) -> None:
    data = tmp_path / "data"
    (data / "machine.json").write_text('{"gear": ', encoding="utf-8")
    code, out, err = run("diagnose", *TOPAZ, "--json")
    assert code == 0
    assert json.loads(out)["plan"]
    assert "damaged" in err
    for argv in (("machine", "show"), ("correct", "--map", "BBD/BBD/BBD")):
        code, out, err = run(*argv, "--json")
        assert (code, out) == (3, "")
        assert "damaged" in json.loads(err)["error"]["what"]


def test_demo_knows_nothing_of_a_broken_bench(run: Run, tmp_path: Path) -> None:
    data = tmp_path / "data"
    (data / "knowledge").mkdir(parents=True)
    (data / "knowledge" / "x.yaml").write_text("materials: [", encoding="utf-8")
    (data / "record.sqlite3").write_bytes(b"junk" * 1000)
    before = sorted(p.name for p in data.rglob("*"))
    code, out, err = run("demo")
    assert (code, err) == (0, "")
    assert "TRY IN THIS ORDER" in out
    assert sorted(p.name for p in data.rglob("*")) == before


@pytest.mark.skipif(shutil.which("chmod") is None or os.geteuid() == 0, reason="root may write everywhere")
def test_a_folder_that_cannot_be_written_still_gives_advice(run: Run, tmp_path: Path) -> None:
    data = tmp_path / "data"
    data.chmod(0o555)
    assert run("diagnose", *TOPAZ)[0] == 0
    assert run("log", *TOPAZ, "--remedy", "clean-lap", "--outcome", "fixed")[0] == 1
    data.chmod(0o755)


def test_endless_and_broken_input_is_told_in_short(run: Run) -> None:
    for value in ("x" * 100_000, "a\nb\x1b[31m", "\udcff\udcfe", "١٢٣"):
        code, _, err = run("diagnose", "--material", value)
        assert code == 2
        assert len(err) < 600
        assert "\x1b" not in err
        assert "knowledge list materials" in err


@pytest.mark.parametrize(("argv", "near"), [(("diagnos",), "diagnose"), (("record", "shw"), "show")])
def test_a_mistyped_command_gets_the_nearest(run: Run, argv: tuple[str, ...], near: str) -> None:
    code, _, err = run(*argv, "--json")
    assert code == 2
    assert near in json.loads(err)["error"]["nearest"]


def test_a_decimal_comma_is_a_decimal_point(run: Run) -> None:
    told = ("--fact", "facet_size=9,5x6", "--fact", "cleavage_angle=6,5")
    assert run("diagnose", "--material", "topaz", *told)[0] == 0


def test_an_own_lap_with_two_compounds_serves_no_third(run: Run) -> None:
    carried = ("--carries", "diamond-3000", "--carries", "cerium-oxide")
    assert run("laps", "add", "Mixed up", "--type", "tin-lap", *carried)[0] == 0
    plan = steps(run, "--material", "topaz")
    assert [s["missing"] for s in plan if s["compound"] == "aluminium-oxide"] in ([], [True])
    assert [s["missing"] for s in plan if s["compound"] == "diamond-3000"] in ([], [False])


def test_running_the_lap_the_other_way_warns_of_a_lap_held_by_a_screw(run: Run) -> None:
    """A screw-held lap comes loose when the lap is reversed (common practice, no source): said beside the advice."""
    _, out, _ = run("diagnose", "--material", "tourmaline", "--symptom", "one-direction-only")
    text = " ".join(out.split())
    assert "(reverse-direction)" in text
    assert "A lap held by a screw can come loose when run the other way." in text


def test_the_demo_says_how_to_do_the_same_by_hand(run: Run) -> None:
    _, out, _ = run("demo")
    line = out.split("The same by hand:")[1].split("Your own stone")[0].replace("\\\n", " ")
    words = shlex.split(line)
    assert words[0] == "lapwise"
    assert run(*words[1:], "--json")[1] == run("demo", "--json")[1]


def test_no_sentence_is_torn_at_its_commas() -> None:
    """An unquoted list of one sentence falls apart at each comma: a warning of acid would end at the carbonates."""
    for remedy in shipped.knowledge().remedies.values():
        for text in (*remedy.risks, *remedy.steps):
            assert text[0].isupper(), (remedy.id, text)
            assert text.endswith("."), (remedy.id, text)
