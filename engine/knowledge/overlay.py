"""Reads all files, lays the person's own entries over the shipped ones, and checks how everything fits together."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Any

from lapwise.engine.errors import Damaged, Issue
from lapwise.engine.knowledge import files, materials, rules, safety, scales, ways
from lapwise.engine.knowledge.entries import LISTS, NO_IDS, Entry, entries_of, unresolved
from lapwise.engine.knowledge.model import Knowledge, Replaced
from lapwise.engine.knowledge.rule_model import Rule

Key = tuple[str, str]
MOST_ROUNDS = 12
"""An own entry that hangs on one left out is left out in turn; no honest row of them is as long as this."""
MOST_RULES = 500
MOST_WAYS_TOGETHER = 2000
"""Own rules, and ways of meeting them: comparing all with all takes the square of it; some 500 rules are shipped."""


def assembled(shipped: Iterable[files.File], own: Iterable[files.File]) -> tuple[Knowledge, tuple[Issue, ...]]:
    """The knowledge and the problems of own files. Raises :class:`Damaged` for any problem of shipped ones."""
    base, broken, seen = _read(shipped)
    broken += [p for entry in base.values() for p in entry.problems]
    made, faults = _assemble(base)
    sound = made
    broken += [p for problems in faults.values() for p in problems]
    missing = [key for key in scales.KEYS if ("scales", key) not in base]
    broken += [Issue(f"the scale '{key}' is missing", "knowledge/scales.yaml") for key in missing]
    if broken:
        raise Damaged(broken)
    over, problems, seen_own = _read(own)
    both, more = _overlay(base, over)
    problems += more
    for _ in range(MOST_ROUNDS):
        made, faults = _assemble(both)
        if not faults:
            break
        both, more = _without(both, base, faults)
        problems += more
    else:
        made = sound
        what = (
            f"entries depend on entries that are left out, more than {MOST_ROUNDS} in a row: none of your own are used"
        )
        problems.append(Issue(what, next(iter(over.values())).place.file))
    digest = files.digest([*sorted(seen), *sorted(seen_own)])
    made, replaced = safety.kept(made, sound)
    return _knowledge(made, digest, replaced), tuple(problems)


def _read(found: Iterable[files.File]) -> tuple[dict[Key, Entry], list[Issue], list[tuple[str, bytes]]]:
    """Entries by (list, id), problems of the files, and (name, content) of every file that could be read."""
    entries: dict[Key, Entry] = {}
    owner: dict[str, Entry] = {}
    problems: list[Issue] = []
    seen: list[tuple[str, bytes]] = []
    size = rules_read = ways_read = 0
    for number, file in enumerate(found):
        if number >= files.MAX_FILES:
            problems.append(Issue(f"too many files: only the first {files.MAX_FILES} are read", file.name))
            break
        data, problem = files.content(file)
        if problem:
            problems.append(problem)
            continue
        size += len(data)
        if file.own and size > files.MOST_OWN_BYTES:
            what = f"your own files hold more than {files.MOST_OWN_BYTES:,} bytes: this and later ones are not read"
            problems.append(Issue(what, file.name))
            break
        seen.append((file.path.name if file.own else file.name, data))
        inside, wrong = entries_of(file, data)
        problems += wrong
        if wrong and file.own:
            problems += [p for entry in inside for p in entry.problems]
            continue
        for entry in inside:
            first = owner.get(entry.id) if entry.list not in NO_IDS else entries.get((entry.list, entry.id))
            if first is not None:
                what = f"this id is already used in {first.place.file}, line {first.place.line}, among the {first.list}"
                problems.append(Issue(what, entry.where, entry.id))
                continue
            if entry.list not in NO_IDS:
                owner[entry.id] = entry
            if entry.list == "rules" and file.own:
                rules_read, ways_read = rules_read + 1, ways_read + ways.size(entry.value.when)[1]
                if rules_read > MOST_RULES or ways_read > MOST_WAYS_TOGETHER:
                    many = f"{MOST_RULES} rules of your own, or {MOST_WAYS_TOGETHER} ways of meeting them"
                    problems.append(
                        Issue(f"more than {many}: this one and the rest of the file are left out", entry.where)
                    )
                    break
            entries[entry.list, entry.id] = entry
    return entries, problems, seen


def _overlay(base: Mapping[Key, Entry], over: Mapping[Key, Entry]) -> tuple[dict[Key, Entry], list[Issue]]:
    """The own entries laid over the shipped ones; those with problems, or with the id of another thing, left out."""
    lists = {id_: list_ for list_, id_ in base if list_ not in NO_IDS}
    both = dict(base)
    problems: list[Issue] = []
    for key, entry in over.items():
        taken = lists.get(entry.id, entry.list)
        if entry.problems:
            problems += entry.problems
        elif entry.list not in (taken, *NO_IDS):
            what = f"this id is already used for something else, among the {taken}"
            problems.append(Issue(what, entry.where, entry.id))
        elif lost := _lost_results(base.get(key), entry):
            what = "your own version of a shipped look must keep its results"
            problems.append(Issue(what, f"{entry.where}.results", f"without {', '.join(lost)}"))
        else:
            both[key] = entry
            if beside := safety.shadow(base.get(key), entry):
                both["rules", beside.id] = beside
    return both, problems


def _lost_results(shipped: Entry | None, own: Entry) -> tuple[str, ...]:
    """Results of a shipped look that rules may ask for and the own form of it no longer has."""
    if shipped is None or own.list != "looks":
        return ()
    return tuple(r for r in shipped.value.results if r not in own.value.results)


def _without(
    both: Mapping[Key, Entry], base: Mapping[Key, Entry], faults: Mapping[Key, tuple[Issue, ...]]
) -> tuple[dict[Key, Entry], list[Issue]]:
    """The entries without the own ones that are at fault; the shipped ones of the same id come back.

    If only shipped entries are at fault, something own broke them: every own entry is then left out.
    """
    own = [key for key in faults if both[key].place.own]
    problems = [p for key in own for p in faults[key]]
    if not own:
        own = [key for key, entry in both.items() if entry.place.own]
        problems = [p for found in faults.values() for p in found]
        problems.append(Issue("your own files do not fit the shipped ones and are left out", both[own[0]].place.file))
    dropped = frozenset(own)
    out = {
        key: base[key] if key in dropped else entry for key, entry in both.items() if key not in dropped or key in base
    }
    return out, problems


Made = dict[str, dict[str, Any]]


def _assemble(entries: Mapping[Key, Entry]) -> tuple[Made, dict[Key, tuple[Issue, ...]]]:
    """Everything by list and id, and the problems that show only when all is together, by entry."""
    made: Made = {name: {} for name in LISTS}
    for (list_, id_), entry in entries.items():
        made[list_][id_] = entry.value
    faults: dict[Key, tuple[Issue, ...]] = {}

    def fault(key: Key, *problems: Issue) -> None:
        faults[key] = (*faults.get(key, ()), *problems)

    results = frozenset(
        f"{look.id}={result}" for look in made["looks"].values() for result in getattr(look, "results", ())
    )

    def ids(list_: str) -> Iterable[str]:
        return results if list_ == "look_results" else made[list_]

    for key, entry in entries.items():
        if entry.problems:
            continue
        if missing := unresolved(entry.references, ids):
            fault(key, *missing)
    merged, wrong = materials.inherit(made["materials"])
    for id_, problem in wrong.items():
        if not entries["materials", id_].problems:
            fault(("materials", id_), problem)
    made["materials"] = dict(merged)
    sound: dict[str, Rule] = {id_: rule for id_, rule in made["rules"].items() if not entries["rules", id_].problems}
    tiers, circle = rules.tiers(sound)
    for id_ in circle:
        fault(("rules", id_), rules.circle_problem(sound[id_], circle))
    made["rules"] = {id_: replace(rule, tier=tiers.get(id_, 0)) for id_, rule in sound.items()}
    return made, faults


def _knowledge(made: Made, digest: str, replaced: tuple[Replaced, ...]) -> Knowledge:
    lists: dict[str, Any] = {name: MappingProxyType(values) for name, values in made.items() if name != "scales"}
    numbers = scales.scales(made["scales"])
    ends = numbers.trial_minutes
    with_trial = {name: replace(r, minutes=r.minutes + ends) for name, r in lists["remedies"].items()}
    lists["remedies"] = MappingProxyType(with_trial)
    return Knowledge(**lists, scales=numbers, digest=digest, replaced=replaced)
