"""Teaching: conditions that set a case apart, what a draft would change, kept cases as tests."""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from lapwise.engine.case import Case
from lapwise.engine.conclusions import Fact
from lapwise.engine.errors import BadInput
from lapwise.engine.folders import Folders, folders
from lapwise.engine.knowledge.loader import load
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.record.store import Record
from lapwise.engine.teaching import choose_conditions, draft_rule, run_cases, write_rule


def facts(**slots: str) -> list[Fact]:
    return [Fact(slot, value) for slot, value in slots.items()]


def test_conditions_are_what_sets_the_case_apart() -> None:
    here = facts(symptom="haze", carrier="oil", compound="aluminium-oxide", lap="tin-lap", material="topaz")
    others = [
        set(facts(symptom="haze", carrier="water", compound="aluminium-oxide", lap="tin-lap", material="topaz")),
        set(facts(symptom="haze", carrier="water", compound="cerium-oxide", lap="tin-lap", material="topaz")),
    ]
    assert choose_conditions(here, others) == facts(symptom="haze", carrier="oil")
    # the same carrier everywhere: then it is the stone
    beryl = facts(symptom="haze", carrier="oil", compound="aluminium-oxide", lap="tin-lap", material="beryl")
    assert choose_conditions(here, [set(beryl)] * 3) == facts(symptom="haze", material="topaz")


def test_without_earlier_cases_a_rule_is_still_not_about_everything() -> None:
    here = facts(symptom="haze", lap="tin-lap", material="topaz")
    assert len(choose_conditions(here, [])) == 2


@given(st.lists(st.sets(st.sampled_from("abcdef")), max_size=8), st.sets(st.sampled_from("abcdef"), min_size=1))
def test_chosen_conditions_hold_in_the_case_and_are_few(others: list[set[str]], here: set[str]) -> None:
    stated = [Fact("symptom", x) for x in sorted(here)]
    chosen = choose_conditions(stated, [{Fact("symptom", x) for x in o} for o in others])
    assert set(chosen) <= set(stated)
    assert 1 <= len(chosen) <= 4
    assert len(chosen) == len(set(chosen))


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> tuple[Folders, Knowledge, list[str]]:
    """Shipped knowledge; two wet cases that washing cured, then a dry one in which the fourth advice was the cure."""
    from lapwise.engine.diagnosis.session import Session

    where = folders(tmp_path_factory.mktemp("teach") / "data")
    knowledge = load(where).knowledge
    wet = Case(
        material="quartz",
        lap="phenolic-lap",
        compound="cerium-oxide",
        symptoms=("fine-scratches",),
        facts={"wetness": "wet"},
    )
    dry = Case(
        material="quartz",
        lap="phenolic-lap",
        compound="cerium-oxide",
        symptoms=("fine-scratches",),
        facts={"wetness": "damp"},
    )
    plan = [step.remedy for step in Session(knowledge).quick(dry).plan]
    ids = []
    with Record.open(where) as record:
        for case, remedy, outcome in ((wet, plan[0], "fixed"), (dry, plan[0], "no-change"), (dry, plan[3], "fixed")):
            case_id = record.open_case(case)
            record.log_outcome(case, remedy, outcome, minutes=5, knowledge_digest=knowledge.digest, case_id=case_id)  # type: ignore[arg-type]
            ids.append(case_id)
    return where, knowledge, [*ids, plan[3]]


def test_a_draft_says_what_it_would_change(shop: tuple[Folders, Knowledge, list[str]]) -> None:
    where, knowledge, (wet, failed, taught, cure) = shop
    with Record.open(where, readonly=True) as record:
        draft = draft_rule(record, knowledge, taught, "my-rule")
        with pytest.raises(BadInput, match="no remedy cured"):
            draft_rule(record, knowledge, failed, "my-rule")
        with pytest.raises(BadInput, match="already"):
            draft_rule(record, knowledge, taught, next(iter(knowledge.rules)))
    assert draft.remedy == cure
    assert cure not in draft.before
    assert cure in draft.after
    conditions = yaml.safe_load(draft.text)["rules"]["my-rule"]["when"]
    assert {"wetness": "damp"} in conditions  # what sets it apart from the wet case
    assert [c.case_id for c in draft.changed] == [failed]
    assert draft.compared == 1
    assert draft.changed[0].cured_by is None
    assert wet not in {c.case_id for c in draft.changed}


def test_a_written_rule_loads_and_its_case_is_kept(shop: tuple[Folders, Knowledge, list[str]], tmp_path: Path) -> None:
    where, knowledge, (_, _, taught, cure) = shop
    with Record.open(where, readonly=True) as record:
        draft = draft_rule(record, knowledge, taught, "my-rule")
    own = folders(tmp_path / "own")
    write_rule(draft, own)
    with pytest.raises(BadInput, match="not written over"):
        write_rule(draft, own)
    loaded = load(own)
    assert loaded.problems == ()
    rule = loaded.knowledge.rules["my-rule"]
    assert (rule.when, rule.then, rule.because, rule.tier) == (
        draft.rule.when,
        draft.rule.then,
        draft.rule.because,
        0,
    )
    assert run_cases(loaded.knowledge, own.own_cases) == []
    (finding,) = run_cases(knowledge, own.own_cases)
    assert finding.check == "own-cases"
    assert cure in finding.problem.what


@pytest.mark.parametrize(
    "content",
    [
        "",
        "cases: 5",
        "[",
        "cases: [5]",
        "cases:\n- {id: x}",
        "cases:\n- {id: x, case: {material: nothing}}",
        "cases:\n- {id: x, case: 7}",
        "cases: !!python/object/apply:os.system ['true']",
        "\x00",
        "cases:\n- {id: x, case: {facts: [1]}}",
    ],
)
def test_a_bad_file_of_kept_cases_is_a_finding_and_no_traceback(
    shop: tuple[Folders, Knowledge, list[str]], tmp_path: Path, content: str
) -> None:
    (tmp_path / "bad.yaml").write_text(content)
    found = run_cases(shop[1], tmp_path)
    assert [f.severity for f in found] == ["error"]


def test_bad_advice_in_a_kept_case_is_found(shop: tuple[Folders, Knowledge, list[str]], tmp_path: Path) -> None:
    (tmp_path / "mine.yaml").write_text(
        "cases:\n- id: x\n  case: {material: quartz, symptoms: [fine-scratches]}\n  not_advised: [A]\n"
    )
    assert run_cases(shop[1], tmp_path) == []
    from lapwise.engine.diagnosis.session import Session

    first = Session(shop[1]).quick(Case(material="quartz", symptoms=("fine-scratches",))).plan[0].remedy
    text = (tmp_path / "mine.yaml").read_text().replace("[A]", f"[{first}]")
    (tmp_path / "mine.yaml").write_text(text)
    (finding,) = run_cases(shop[1], tmp_path)
    assert first in finding.problem.what


def test_a_case_that_names_a_lap_of_another_bench_still_gets_advice(
    shop: tuple[Folders, Knowledge, list[str]],
) -> None:
    from lapwise.engine.diagnosis.session import Session

    where, knowledge, _ = shop
    case = Case(material="quartz", symptoms=("haze",), own_lap="01a21338-6329-7df4-a7e6-1c2e5c87c931")
    with Record.open(where, readonly=True) as record:
        assert Session(knowledge, record=record).quick(case).plan
