"""Each check of the rule base finds the fault sown for it, and nothing in a sound base."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

import pytest
from tests.unit.knowledge_samples import BASE, RULES, load_sample

from lapwise.engine.checks import CHECKS, Finding, run
from lapwise.engine.errors import Issue
from lapwise.engine.knowledge.model import Knowledge

RULE = """
  {id}:
    when: [{when}]
    then: {{{then}}}
    because: {because}
    source: {source}
"""


def rule(id_: str, when: str, then: str, because: str = "So it is said.", source: str = "practice") -> str:
    return RULE.format(id=id_, when=when, then=then, because=because, source=source)


def rules(*more: str) -> dict[str, str]:
    return {"rules": RULES + "".join(more)}


def base(old: str, new: str) -> dict[str, str]:
    assert BASE.count(old) == 1, old
    return {"base": BASE.replace(old, new)}


EXPERIENCE = """
experience:
  {group}:
    fixes:
      {remedy}:
        {cause}: 0.5 (0.4 to 0.6) of 12
"""
DRY = "{wetness: dry}"
FOR = "for: {clog: slightly}"

# (check, the entry it must name, the fault). Where a check knows several kinds of fault, each kind is sown.
FAULTS: list[tuple[str, str, dict[str, str]]] = [
    ("remedies-counted-twice", "mine", rules(rule("mine", DRY, "for: {grit: slightly}, favours: {wash: slightly}"))),
    (
        "remedies-counted-twice",
        "mine",
        rules(rule("mine", DRY, "against: {clog: slightly}, disfavours: {swap: slightly}")),
    ),
    ("remedies-counted-twice", "mine", rules(rule("mine", "{saw: peek=rows}", "favours: {wash: slightly}"))),
    ("looks-counted-twice", "mine", rules(rule("mine", "{saw: peek=rows}", "for: {grit: slightly}"))),
    ("looks-counted-twice", "mine", rules(rule("mine", f"{DRY}, {{saw: peek=clear}}", "rules_out: [grit]"))),
    (
        "looks-counted-twice",
        "far",
        rules(
            rule("near", "{saw: peek=rows}", "finding: [seen]"),
            rule("far", "{finding: seen}", "against: {clog: slightly}"),
        )
        | base("  dirty: {label: the lap is dirty}", "  dirty: {label: the lap is dirty}\n  seen: {label: rows}"),
    ),
    (
        "findings-counted-twice",
        "far",
        rules(
            rule("near", DRY, "finding: [dirty], for: {grit: slightly}"),
            rule("far", "{finding: dirty}", "favours: {wash: slightly}"),
        ),
    ),
    (
        "findings-counted-twice",
        "far",
        rules(
            rule("near", DRY, "finding: [dirty], against: {clog: slightly}"),
            rule("far", "{finding: dirty}", "against: {clog: slightly}"),
        ),
    ),
    ("missing-reasons", "mine", rules(rule("mine", DRY, FOR, because="Because."))),
    ("missing-reasons", "glimmer", base("because: It chips now and then.,", "because: '',")),
    ("redundant-rules", "two", rules(rule("one", DRY, FOR), rule("two", DRY, FOR))),
    (
        "redundant-rules",
        "two",
        rules(rule("one", f"{DRY}, {{speed: fast}}", FOR), rule("two", f"{{speed: fast}}, {DRY}", FOR)),
    ),
    (
        "redundant-rules",
        "two",
        rules(rule("one", "{wetness: [dry, damp]}", FOR), rule("two", "{wetness: [damp, dry]}", FOR)),
    ),
    (
        "redundant-rules",
        "two",
        rules(
            rule("one", "{mohs: {at_least: 6}}, {mohs: {at_least: 5}}", FOR), rule("two", "{mohs: {at_least: 6}}", FOR)
        ),
    ),
    ("subsumed-rules", "two", rules(rule("one", DRY, FOR), rule("two", f"{DRY}, {{speed: fast}}", FOR))),
    (
        "subsumed-rules",
        "two",
        rules(rule("one", "{wetness: [dry, damp]}", "veto: [wash], look: [peek]"), rule("two", DRY, "veto: [wash]")),
    ),
    (
        "subsumed-rules",
        "two",
        rules(rule("one", "{material: glimmer}", FOR), rule("two", "{material: sky-glimmer}", FOR)),
    ),
    ("subsumed-rules", "two", rules(rule("one", "{lap_trait: gentle}", FOR), rule("two", "{lap: soft-disc}", FOR))),
    ("subsumed-rules", "two", rules(rule("one", "{mohs: {above: 5}}", FOR), rule("two", "{mohs: {at_least: 6}}", FOR))),
    ("subsumed-rules", "two", rules(rule("one", "{any: [{wetness: dry}, {speed: fast}]}", FOR), rule("two", DRY, FOR))),
    ("subsumed-rules", "two", rules(rule("one", "{not: {wetness: wet}}", FOR), rule("two", DRY, FOR))),
    ("conflicting-rules", "two", rules(rule("one", DRY, FOR), rule("two", DRY, "against: {clog: strongly}"))),
    (
        "conflicting-rules",
        "two",
        rules(rule("one", DRY, "favours: {wash: slightly}"), rule("two", DRY, "veto: [wash]")),
    ),
    ("conflicting-rules", "one", rules(rule("one", DRY, "for: {clog: slightly}, against: {clog: slightly}"))),
    ("conflicting-rules", "one", rules(rule("one", DRY, "for: {clog: slightly}, rules_out: [clog]"))),
    (
        "conflicting-rules",
        "one",
        rules(rule("one", f"{DRY}, {{speed: fast}}", FOR), rule("two", DRY, "rules_out: [clog]")),
    ),
    (
        "conflicting-rules",
        "one",
        rules(rule("one", f"{DRY}, {{speed: fast}}", "favours: {wash: slightly}"), rule("two", DRY, "veto: [wash]")),
    ),
    ("impossible-conditions", "mine", rules(rule("mine", "{wetness: dry}, {wetness: wet}", FOR))),
    ("impossible-conditions", "mine", rules(rule("mine", "{lap: soft-disc}, {lap_trait: stiff}", FOR))),
    ("impossible-conditions", "mine", rules(rule("mine", "{material: dullite}, {mohs: {above: 6}}", FOR))),
    ("impossible-conditions", "mine", rules(rule("mine", "{compound: red-powder}, {compound_kind: diamond}", FOR))),
    ("impossible-conditions", "mine", rules(rule("mine", "{facet_mm: {above: 6}}, {facet_mm: {below: 5}}", FOR))),
    ("impossible-conditions", "mine", rules(rule("mine", "{carrier: oil}, {not: {carrier: oil}}", FOR))),
    (
        "impossible-conditions",
        "mine",
        rules(rule("mine", "{lap: soft-disc}, {any: [{lap_trait: stiff}, {speed: fast}]}", FOR)),
    ),
    ("unnecessary-conditions", "mine", rules(rule("mine", f"{DRY}, {DRY}", FOR))),
    ("unnecessary-conditions", "mine", rules(rule("mine", "{material: sky-glimmer}, {material: glimmer}", FOR))),
    ("unnecessary-conditions", "mine", rules(rule("mine", "{material: sky-glimmer}, {trait: flawed-kind}", FOR))),
    ("unnecessary-conditions", "mine", rules(rule("mine", "{lap: hard-disc}, {lap_hardness: {above: 5}}", FOR))),
    ("unnecessary-conditions", "mine", rules(rule("mine", "{mohs: {above: 6}}, {mohs: {above: 5}}", FOR))),
    ("unnecessary-conditions", "mine", rules(rule("mine", "{wetness: dry}, {not: {wetness: wet}}", FOR))),
    (
        "unnecessary-conditions",
        "mine",
        rules(rule("mine", "{speed: fast}, {any: [{speed: fast}, {wetness: dry}]}", FOR)),
    ),
    (
        "unnecessary-conditions",
        "mine",
        rules(rule("mine", "{any: [{wetness: dry}, {wetness: dry, speed: fast}]}", FOR)),
    ),
    (
        "unnecessary-conditions",
        "two",
        rules(
            rule("one", "{lap_shared: 'yes'}, {speed: fast}", FOR),
            rule("two", "{lap_shared: 'no'}, {speed: fast}", FOR),
        ),
    ),
    (
        "unreached-causes",
        "lonely",
        base("  other:", "  lonely: {label: l, about: a, confirm: c, base: rare, source: book}\n  other:"),
    ),
    (
        "uncured-causes",
        "lonely",
        base("  other:", "  lonely: {label: l, about: a, confirm: c, base: rare, source: book}\n  other:"),
    ),
    ("idle-remedies", "swap", base("fixes: {clog: usually}", "fixes: {}")),
    ("idle-remedies", "swap", base("fixes: {clog: usually}", "fixes: {clog: never}")),
    ("unexplained-symptoms", "glow", base("causes:\n", "  glow: {label: Glow, about: A glow., how: Look.}\ncauses:\n")),
    ("dead-ends", "unused", base("  dirty: {label", "  unused: {label: never used}\n  dirty: {label")),
    ("dead-ends", "dirty", {"rules": RULES.replace("then: {finding: [dirty]}", "then: {look: [peek]}")}),
    (
        "dead-ends",
        "lone-cure",
        base(
            "looks:\n",
            """  lone-cure: {label: L, about: a, steps: [s], minutes: 1, fixes: {lonely: often}, source: book}
looks:
""",
        )
        | {"more": "causes:\n  lonely: {label: l, about: a, confirm: c, base: rare, source: book}\n"},
    ),
    ("silent-looks", "peek", base("grit: {rows: usually, clear: rarely}", "grit: {rows: rarely, clear: usually}")),
    (
        "silent-looks",
        "peek",
        base("grit: {rows: usually, clear: rarely}", "grit: {rows: usually}, clog: {rows: rarely, clear: usually}"),
    ),
    (
        "silent-looks",
        "peek",
        base(
            "says: {grit: {rows: usually, clear: rarely}}",
            "says: {grit: {rows: never, clear: rarely}, clog: {rows: rarely, clear: usually}}",
        ),
    ),
    ("unused-cautions", "splinters", base("cautions: [splinters]", "cautions: []")),
    (
        "uncarried-pairs",
        "dullite",
        base("[{laps: [soft-disc], compounds: [red-powder]", "[{laps: [soft-disc], compounds: [diamond-x]"),
    ),
    (
        "pairless-materials",
        "dullite",
        base("    polishes_with: [{laps: [soft-disc], compounds: [red-powder], source: practice}]\n", ""),
    ),
    ("unused-traits", "odd", base("  flawed-kind: often flawed", "  flawed-kind: often flawed\n  odd: nothing has it")),
    ("unused-traits", "bent", base("  stiff: does not give way", "  stiff: does not give way\n  bent: nothing has it")),
    ("unknown-experience", "all", {"found": EXPERIENCE.format(group="all", remedy="wash", cause="no-cause")}),
    ("unknown-experience", "all", {"found": EXPERIENCE.format(group="all", remedy="no-remedy", cause="clog")}),
    ("unknown-experience", "lap.no-lap", {"found": EXPERIENCE.format(group="lap.no-lap", remedy="wash", cause="clog")}),
    ("unused-sources", "unread", {"base": BASE + "  unread: {cite: Never read, status: memory}\n"}),
]


def found(knowledge: Knowledge, name: str) -> list[str]:
    return [f.id for f in run(knowledge, only=[name])]


def test_sound_base_has_no_findings(tmp_path: Path) -> None:
    findings = run(load_sample(tmp_path).knowledge)
    assert {f.check for f in findings} == {"missing-words"}, "an invented base lacks the ids of the trade"


@pytest.mark.parametrize(
    ("check", "entry", "texts"), FAULTS, ids=[f"{i}-{check}" for i, (check, _, _) in enumerate(FAULTS)]
)
def test_sown_fault_is_found(check: str, entry: str, texts: dict[str, str], tmp_path: Path) -> None:
    findings = run(load_sample(tmp_path, **texts).knowledge, only=[check])
    assert entry in [f.id for f in findings]
    severity = next(c.severity for c in CHECKS if c.name == check)
    for finding in findings:
        assert finding.severity == severity
        assert finding.problem.what


def test_every_check_has_a_sown_fault() -> None:
    """Ids of the trade, which no sample has, are taken out in test_knowledge_mutants.py."""
    assert {c.name for c in CHECKS} == {check for check, _, _ in FAULTS} | {"missing-words"}


NOT_FAULTS = [
    # What a look lowers, and a remedy that does not fix the cause, count once.
    rules(
        rule("one", "{saw: peek=clear}", "favours: {wash: slightly}"),
        rule("two", DRY, "for: {grit: slightly}, favours: {swap: slightly}"),
    ),
    # Two published sources that disagree both stand.
    rules(
        rule("one", DRY, FOR, source="book"),
        rule("two", DRY, "against: {clog: slightly}", source="letter"),
    )
    | {"more": "sources:\n  letter: {cite: Another work, status: read}\n"},
    # An exception to a general rule is no conflict: both count.
    rules(rule("one", DRY, FOR), rule("two", f"{DRY}, {{speed: fast}}", "against: {clog: slightly}")),
    # The special case says it more strongly.
    rules(rule("one", DRY, FOR), rule("two", f"{DRY}, {{speed: fast}}", "for: {clog: strongly}")),
    # No known stone under Mohs 5 has that trait, but another one may.
    rules(rule("one", "{trait: flawed-kind}, {mohs: {above: 5}}", "for: {grit: slightly}")),
    # The unknown counts as the dangerous case in the second rule only.
    rules(
        rule("one", "{not: {speed: slow}}", "veto: [wash], for: {grit: slightly}"),
        rule("two", "{not: {speed: slow}}", "veto: [wash]"),
    ),
    # Experience of what is known.
    {"found": EXPERIENCE.format(group="lap.soft-disc", remedy="wash", cause="clog")},
    # Together they leave a value out.
    rules(rule("one", "{wetness: dry}, {speed: fast}", FOR), rule("two", "{wetness: wet}, {speed: fast}", FOR)),
]


@pytest.mark.parametrize("texts", NOT_FAULTS, ids=range(len(NOT_FAULTS)))
def test_no_false_alarm(texts: dict[str, str], tmp_path: Path) -> None:
    findings = [f for f in run(load_sample(tmp_path, **texts).knowledge) if f.check != "missing-words"]
    assert [f for f in findings if f.check != "unused-sources"] == []


def test_every_check_has_a_help_page_and_a_name_of_its_own() -> None:
    names = [c.name for c in CHECKS]
    assert len(names) == len(set(names))
    pages = {p.name.removesuffix(".md") for p in (files("lapwise.tui") / "help" / "checks").iterdir()}
    assert pages == {*names, "form"}
    for check in CHECKS:
        text = (files("lapwise.tui") / "help" / "checks" / f"{check.name}.md").read_text(encoding="utf-8")
        assert text.startswith(f"# {check.name}\n\nSeverity: {check.severity}\n")
        assert "## What to do" in text
        assert check.about[0].islower()


def test_errors_come_first_and_own_cases_are_run(tmp_path: Path) -> None:
    knowledge = load_sample(tmp_path, base=BASE + "  unread: {cite: Never read, status: memory}\n").knowledge
    called: list[Path] = []

    def run_cases(known: Knowledge, folder: Path) -> list[Finding]:
        called.append(folder)
        return [Finding("own-cases", "error", "case-1", Issue("the advice has changed"))]

    assert not [f for f in run(knowledge, tmp_path / "none", run_cases=run_cases) if f.check == "own-cases"]
    findings = run(knowledge, tmp_path, run_cases=run_cases)
    assert called == [tmp_path]
    severities = [f.severity for f in findings]
    assert severities == sorted(severities)
    assert {"own-cases", "unused-sources"} <= {f.check for f in findings}


def test_the_checks_tell_how_far_they_are_and_can_be_stopped(tmp_path: Path) -> None:
    shares: list[float | None] = []
    knowledge = load_sample(tmp_path).knowledge
    run(knowledge, progress=lambda done, share: shares.append(share))
    assert len(shares) == len(CHECKS)
    assert shares == sorted(shares, key=lambda share: share or 0.0)

    def stop(done: int, share: float | None) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        run(knowledge, progress=stop)
