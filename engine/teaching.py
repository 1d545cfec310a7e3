"""A rule drafted from a case in which the advice failed and the cutter found the cure; and the cases kept as tests."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType
from typing import Any

from lapwise.engine.case import Case
from lapwise.engine.checks import Finding, run
from lapwise.engine.conclusions import OTHER, Fact
from lapwise.engine.diagnosis.model import Diagnosis
from lapwise.engine.diagnosis.session import Session
from lapwise.engine.errors import BadInput, Issue, LapwiseError
from lapwise.engine.facts import check_case, facts_of
from lapwise.engine.flat import flat
from lapwise.engine.folders import Folders
from lapwise.engine.inference import PlainRules
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.knowledge.place import Place
from lapwise.engine.knowledge.rule_model import AllOf, Rule, Test, Then
from lapwise.engine.knowledge.scaffold import write
from lapwise.engine.record.credit import shares
from lapwise.engine.record.model import CaseRecord
from lapwise.engine.record.store import Record
from lapwise.engine.slots import CONDITIONS

FIRST = 3
"""The cure should be among so many first remedies."""
STRENGTHS = ("slightly", "moderately", "strongly")
MOST_CAUSES = 2
BENEFIT_OF_DOUBT = 0.05
MOST_CONDITIONS = 4
FEWEST_CONDITIONS = 2
LOOKED_AT = 500
"""Newest cases that a draft is compared with."""
_PREFERENCE = ("symptom", *CONDITIONS, "compound", "lap", "prior", "material", "stage")
COMPARED = ("redundant-rules", "subsumed-rules", "conflicting-rules", "findings-counted-twice")
"""The checks that a drafted rule must pass beside the others."""


@dataclass(frozen=True, slots=True)
class Changed:
    """An earlier case whose first three remedies the rule would change. ``cured_by``: what cured it, if anything."""

    case_id: str
    at: str
    before: tuple[str, ...]
    after: tuple[str, ...]
    cured_by: str | None

    @property
    def verdict(self) -> str:
        """better, worse or other: whether what cured that case moves forward, back, or neither."""
        if self.cured_by is None:
            return "other"
        ranks = [order.index(self.cured_by) if self.cured_by in order else 99 for order in (self.before, self.after)]
        return "better" if ranks[1] < ranks[0] else "worse" if ranks[1] > ranks[0] else "other"

    def as_json(self) -> dict[str, Any]:
        """Flat JSON."""
        return {**flat(self, case_id="case"), "verdict": self.verdict}


@dataclass(frozen=True, slots=True)
class Draft:
    """A rule ready to be written. ``text``: its file. ``test``: the file of the kept case, empty if it does not hold.

    ``before`` and ``after``: first remedies of the taught case without and with the rule. ``remarks``: what to know.
    """

    rule: Rule
    case_id: str
    remedy: str
    text: str
    test: str
    before: tuple[str, ...]
    after: tuple[str, ...]
    changed: tuple[Changed, ...]
    compared: int
    remarks: tuple[str, ...]

    def as_json(self) -> dict[str, Any]:
        """Flat JSON."""
        return {
            "id": self.rule.id,
            "case": self.case_id,
            "cured_by": self.remedy,
            "rule": self.text,
            "before": list(self.before),
            "after": list(self.after),
            "compared": self.compared,
            "changed": [c.as_json() for c in self.changed],
            "remarks": list(self.remarks),
        }


def _first(answer: Diagnosis) -> tuple[str, ...]:
    return tuple(step.remedy for step in answer.plan[:FIRST])


def _fresh(case: Case) -> Case:
    """The case as it was before anything was tried or looked at."""
    return replace(case, tried=(), saw=(), settled=0, own_lap=None)


def _stated(case: Case, knowledge: Knowledge) -> list[Fact]:
    """What the person stated, as facts a rule can ask for, the most telling first."""
    checked = check_case(_fresh(case), knowledge)
    material = checked.material
    found = [
        f
        for f in facts_of(checked, knowledge)
        if f.slot in _PREFERENCE
        and isinstance(f.value, str)
        and (f.slot != "material" or f.value == material)
        and (f.slot != "stage" or f.value != "polish")
    ]
    return sorted(found, key=lambda f: (_PREFERENCE.index(f.slot), str(f.value)))


def _cured_by(record: CaseRecord) -> str | None:
    cures = [s.remedy for s in record.steps if s.kind == "try" and s.outcome == "fixed" and not s.withdrawn]
    return cures[-1] if cures else None


def _earlier(record: Record, case_id: str, knowledge: Knowledge) -> Iterator[tuple[CaseRecord, set[Fact]]]:
    """Earlier cases with their facts; those that speak of what is known no longer are passed over."""
    for kept in record.cases(limit=LOOKED_AT):
        if kept.id < case_id:
            try:
                yield kept, set(facts_of(check_case(_fresh(kept.case), knowledge), knowledge))
            except LapwiseError:
                continue


def choose_conditions(stated: list[Fact], others: list[set[Fact]]) -> list[Fact]:
    """The stated facts that set a case apart from others: each taken excludes the most that are left.

    Ties go to what tells most (what is seen, then the other facts, then compound, lap and stone). At least two, at
    most four; never one that sets apart nothing while a better one is left.
    """
    chosen: list[Fact] = [f for f in stated if f.slot == "symptom"][:1]
    left = [o for o in others if all(f in o for f in chosen)]
    while left and len(chosen) < MOST_CONDITIONS:
        best = max((f for f in stated if f not in chosen), key=lambda f: sum(f not in o for o in left), default=None)
        if best is None or not any(best not in o for o in left):
            break
        chosen.append(best)
        left = [o for o in left if best in o]
    for fact in stated:
        if len(chosen) >= FEWEST_CONDITIONS:
            break
        if fact not in chosen:
            chosen.append(fact)
    return sorted(chosen, key=stated.index)


def _likely_causes(found: CaseRecord, remedy: str, knowledge: Knowledge, ruled_out: set[str]) -> list[str]:
    """The causes the remedy can cure that may have been at work, the likeliest first: by its chance to cure them and
    what was believed at the end (a little for each, since the advice was wrong here)."""
    _, end, _ = shares(found)
    words, chance = knowledge.remedies[remedy].fixes, knowledge.scales.chance
    causes = [c for c in sorted(words) if c in knowledge.causes and c not in ruled_out]
    return sorted(causes, key=lambda c: -chance[words[c]] * (end.get(c, 0.0) + BENEFIT_OF_DOUBT))


def draft_rule(record: Record, knowledge: Knowledge, case_id: str, rule_id: str) -> Draft:
    """A rule that would have put the cure of this case among the first three, as weak as will do.

    Raises :class:`BadInput` if the case was not cured, says nothing a rule could ask for, or was cured by what a
    rule forbids there.
    """
    found = record.find_case(case_id)
    remedy = _cured_by(found)
    where = f"case {found.id}"
    if remedy is None:
        raise BadInput(Issue("no remedy cured this case: there is nothing to learn a rule from", where))
    if remedy not in knowledge.remedies:
        raise BadInput.unknown("what cured this case is no longer known", remedy, knowledge.remedies, where)
    if rule_id in knowledge.rules:
        raise BadInput(Issue("there is a rule of this id already", "lapwise knowledge new rule", rule_id))
    stated = _stated(found.case, knowledge)
    if not stated:
        raise BadInput(Issue("this case says nothing a rule could ask for", where))
    fresh = check_case(_fresh(found.case), knowledge)
    session = Session(knowledge, engine=PlainRules(knowledge))
    answer = session.quick(fresh)
    veto = next((v for v in answer.vetoed if v.remedy == remedy), None)
    if veto is not None:
        what = f"what cured this case is forbidden there, and a rule of yours cannot lift that: {veto.because}"
        raise BadInput(Issue(what, where, remedy))
    earlier = list(_earlier(record, found.id, knowledge))
    conditions = choose_conditions(stated, [facts for kept, facts in earlier if _cured_by(kept) != remedy])
    before = _first(answer)
    remarks = []
    if remedy in before:
        remarks.append(f"The advice has {remedy} among its first {FIRST} already: the rule only confirms it.")
    rule, taught, after = _weakest(rule_id, conditions, remedy, found, fresh, answer, knowledge)
    holds = remedy in after
    if not holds:
        remarks.append(
            f"Even so {remedy} does not come among the first {FIRST}: other facts speak against it. "
            "The case would fail as a test and is not kept as one."
        )
    changed = []
    compared = 0
    for kept, facts in earlier:
        if all(f in facts for f in conditions):
            compared += 1
            case = check_case(_fresh(kept.case), knowledge)
            one, two = _first(session.quick(case)), _first(taught.quick(case))
            if one != two:
                changed.append(Changed(kept.id, kept.at, one, two, _cured_by(kept)))
    return Draft(
        rule,
        found.id,
        remedy,
        _rule_text(rule, found),
        _case_text(rule_id, fresh, remedy, found) if holds else "",
        before,
        after,
        tuple(changed),
        compared,
        tuple(remarks),
    )


def _weakest(
    rule_id: str,
    conditions: list[Fact],
    remedy: str,
    found: CaseRecord,
    fresh: Case,
    answer: Diagnosis,
    knowledge: Knowledge,
) -> tuple[Rule, Session, tuple[str, ...]]:
    """The weakest rule that brings the remedy among the first of this case, else the strongest there is.

    It speaks for a cause the remedy cures, or else for the remedy itself, never for both: that would count the case
    twice. Where that is not enough it also speaks against the causes that were believed and that the remedy cures
    none of, and at last it puts the remedy first. What another rule says already is passed over. Returns the rule, an
    advice session with it, and the first remedies it gives.
    """
    gone = {r.cause for r in answer.conclusions.ruled_out}
    fixes = knowledge.remedies[remedy].fixes
    wrong = [v.id for v in answer.causes if v.id not in fixes and v.id in knowledge.causes and v.id != OTHER]
    likely = _likely_causes(found, remedy, knowledge, gone)[:MOST_CAUSES]
    speaking = [
        [*(Then(evidence_for={c: strength}) for c in likely), Then(favours={remedy: strength})]
        for strength in STRENGTHS
    ]
    against = [dict.fromkeys(wrong[:number], STRENGTHS[-1]) for number in (1, 2, 4)]
    thens = [
        *(then for one in speaking for then in one),
        *(replace(then, evidence_against=table) for table in against for then in speaking[-1]),
        Then(first=(remedy,)),
    ]
    for then in thens:
        rule = _rule(rule_id, conditions, then, remedy, found, knowledge)
        with_it = replace(knowledge, rules=MappingProxyType({**knowledge.rules, rule.id: rule}))
        taught = Session(with_it, engine=PlainRules(with_it))
        after = _first(taught.quick(fresh))
        if remedy in after and not _refused(rule, with_it):
            break
    return rule, taught, after


def _refused(rule: Rule, knowledge: Knowledge) -> bool:
    """Whether the checks would refuse a rule beside the others, as it says again what one says, or the opposite."""
    return any(f.id == rule.id and f.severity == "error" for f in run(knowledge, only=COMPARED))


def _rule(
    rule_id: str, conditions: list[Fact], then: Then, remedy: str, found: CaseRecord, knowledge: Knowledge
) -> Rule:
    when = AllOf(tuple(Test(f.slot, any_of=(str(f.value),)) for f in conditions))
    label = knowledge.remedies[remedy].label
    failed = [r for r, outcome in found.case.tried if outcome != "fixed" and r != remedy]
    after = f", after {len(failed)} other {'remedy' if len(failed) == 1 else 'remedies'} had not" if failed else ""
    because = f"In a case of your own on {found.at[:10]} this cured it{after}: {label}."
    limits = "Drawn from a single case of your own; change it or take it out when it misleads."
    return Rule(rule_id, "own", when, then, because, "practice", limits, 0, Place(f"{rule_id}.yaml", 1, own=True))


def _text(value: str) -> str:
    """A text as YAML takes it, whatever is in it: JSON strings are YAML."""
    return json.dumps(value, ensure_ascii=False)


def _rule_text(rule: Rule, found: CaseRecord) -> str:
    lines = [
        f"# Drafted from your case {found.id}. Change it freely, then run: lapwise knowledge check",
        "rules:",
        f"  {rule.id}:",
        "    when:",
    ]
    for part in rule.when.parts:
        assert isinstance(part, Test)
        lines.append(f"      - {part.slot}: {_text(part.any_of[0])}")
    lines.append("    then:")
    then = rule.then
    for key, table in (("for", then.evidence_for), ("against", then.evidence_against), ("favours", then.favours)):
        if table:
            lines.append(f"      {key}: {{{', '.join(f'{k}: {v}' for k, v in table.items())}}}")
    if then.first:
        lines.append(f"      first: [{', '.join(then.first)}]")
    lines += [f"    because: {_text(rule.because)}", f"    source: {rule.source}", f"    limits: {_text(rule.limits)}"]
    return "\n".join(lines) + "\n"


def _case_text(rule_id: str, case: Case, remedy: str, found: CaseRecord) -> str:
    import yaml

    content = {
        "cases": [
            {
                "id": rule_id,
                "title": f"Taught on {found.at[:10]}",
                "kind": "own",
                "firm": True,
                "case": case.as_json(),
                "cured_by": [remedy],
                "not_advised": [],
                "note": f"Kept from case {found.id} as a test of the rule {rule_id}.",
            }
        ]
    }
    head = f"# The cure must stay among the first {FIRST} of the advice; `lapwise knowledge check` looks.\n"
    return head + yaml.safe_dump(content, sort_keys=False, allow_unicode=True)


def write_rule(draft: Draft, where: Folders) -> tuple[Path, Path | None]:
    """Write the rule and its kept case (if it holds) into the person's own folders; returns both paths.

    Nothing is written over: raises :class:`BadInput` if one of the files is there.
    """
    rule = where.own_rules / f"{draft.rule.id}.yaml"
    test = where.own_cases / f"{draft.rule.id}.yaml"
    for path in (rule, test):
        if path.exists():
            raise BadInput(Issue("this file is already there and is not written over", str(path)))
    if draft.test:
        write(test, draft.test)
    write(rule, draft.text)
    return rule, test if draft.test else None


# --- kept cases --------------------------------------------------------------------------------------------------


UNREADABLE = (LapwiseError, KeyError, TypeError, ValueError, AttributeError)
"""What a case of another shape ends in."""


def run_cases(knowledge: Knowledge, folder: Path) -> list[Finding]:
    """Run the kept cases of a folder: a finding for each whose cure is no longer among the first remedies or looks,
    whose bad advice is, or that cannot be read. Advice here is that of the knowledge alone, without the record."""
    found: list[Finding] = []
    session = None
    for path in sorted(folder.glob("*.yaml")):
        for item in _read_cases(path, found):
            try:
                if session is None:
                    session = Session(knowledge, engine=PlainRules(knowledge))
                case = check_case(Case.from_json(item["case"]), knowledge)
                answer = session.quick(case)
            except UNREADABLE as error:
                found.append(_finding(item, path, f"this kept case cannot be run: {error}"))
                continue
            found += _judged(item, path, answer)
    return found


@dataclass(frozen=True, slots=True)
class Firing:
    """How often the rules fire in ``cases`` told: the ids of those that fire in ``none`` and in ``one`` of them."""

    cases: int
    none: tuple[str, ...]
    one: tuple[str, ...]


def firing(knowledge: Knowledge, folder: Path) -> Firing:
    """Every case of the YAML files in and below ``folder`` that hold a list ``cases``, as it was before its cure.

    Raises :class:`BadInput` that names a case which cannot be run.
    """
    rules = PlainRules(knowledge)
    often = dict.fromkeys(rules.rules, 0)
    count = 0
    for path in sorted(folder.rglob("*.yaml")):
        for item in _read_cases(path, []):
            try:
                case = check_case(Case.from_json(item["case"]), knowledge).without_cures()
            except UNREADABLE as error:
                name = f"{path.name}: {item.get('id', path.stem)}"
                raise BadInput(Issue(f"this case cannot be run: {error}", name)) from None
            count += 1
            for fired in {step.rule for step in rules.run(facts_of(case, knowledge)).trace}:
                often[fired] += 1
    none, one = (tuple(rule for rule, times in often.items() if times == n) for n in (0, 1))
    return Firing(count, none, one)


def _read_cases(path: Path, found: list[Finding]) -> Iterable[Mapping[str, Any]]:
    import yaml

    try:
        content = yaml.safe_load(path.read_text(encoding="utf-8"))
        items = content["cases"]
        if not isinstance(items, list) or not all(isinstance(i, dict) for i in items):
            raise TypeError("a list of cases is required under the key cases")
    except (OSError, UnicodeDecodeError, yaml.YAMLError, RecursionError, KeyError, TypeError) as error:
        found.append(_finding({}, path, f"this file of kept cases cannot be read: {type(error).__name__}: {error}"))
        return ()
    return items


def _judged(item: Mapping[str, Any], path: Path, answer: Diagnosis) -> Iterator[Finding]:
    first = _first(answer)
    cures = [str(c) for c in item.get("cured_by") or ()]
    shown = {answer.look.id} if answer.look else set()
    if cures and not set(cures) & (set(first) | shown):
        lost = f"what cured this kept case ({', '.join(cures)}) is no longer among the first {FIRST}"
        yield _finding(item, path, f"{lost}, which are {', '.join(first) or 'empty'}")
    bad = sorted(set(map(str, item.get("not_advised") or ())) & set(first))
    if bad:
        yield _finding(item, path, f"this kept case now gets advice it should not: {', '.join(bad)}")


def _finding(item: Mapping[str, Any], path: Path, words: str) -> Finding:
    name = str(item.get("id", path.stem))
    return Finding("own-cases", "error", name, Issue(words, f"{path.name}: {name}"), own=True)
