"""From files to entries: every top-level list split into its entries, each read by the module of its noun."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import Any

from lapwise.engine.errors import Issue, nearest
from lapwise.engine.knowledge import experience, laps, materials, remedies, rules, scales, troubles, words
from lapwise.engine.knowledge.fields import ID, MOST_SPELLINGS, Fields, Findings, Reference, Value
from lapwise.engine.knowledge.files import File
from lapwise.engine.knowledge.place import Place
from lapwise.engine.knowledge.reader import MAX_PROBLEMS, Mapping, Scalar, read

Read = Callable[[str, Fields, Place], Any]

READERS: dict[str, Read] = {
    "materials": materials.read_material,
    "laps": laps.read_lap,
    "compounds": laps.read_compound,
    "symptoms": troubles.read_symptom,
    "appearances": troubles.read_appearance,
    "causes": troubles.read_cause,
    "remedies": remedies.read_remedy,
    "looks": remedies.read_look,
    "cautions": words.read_caution,
    "findings": words.read_finding,
    "sources": words.read_source,
    "scales": scales.read_scale,
    "conditions": words.read_condition,
    "synonyms": words.read_synonym,
    "word_lists": words.read_word_list,
    "experience": experience.read_experience,
    "habits": rules.read_habit,
    "hunches": rules.read_hunch,
}
"""The reader of each list whose entries are groups of keys; rules need their theme besides."""
MEANINGS = ("traits", "lap_traits")
"""Lists whose entries are one sentence each."""
LISTS = (*READERS, *MEANINGS, "rules")
NO_IDS = ("scales", "conditions", "synonyms", "word_lists", "experience", "habits", "hunches", "appearances")
"""Lists whose keys name nothing that a case or a rule could speak of: another list may use the same word."""
ELSEWHERE = ("abrasives", "cues", "trade")
"""Lists read elsewhere (:mod:`lapwise.engine.abrasion.tables`, ``words.cues``, ``checks.trade``)."""
SHIPPED_ALONE = ("word_lists",)
"""Lists whose every entry is asked for by name: none may be replaced."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry as read. ``value``: what its reader made of it, not to be used if there are ``problems``."""

    list: str
    id: str
    value: Any
    place: Place
    references: tuple[Reference, ...]
    problems: tuple[Issue, ...]

    @property
    def where(self) -> str:
        """``file:line: list.id``."""
        return self.place.of(f"{self.list}.{self.id}")


def entries_of(file: File, data: bytes) -> tuple[tuple[Entry, ...], tuple[Issue, ...]]:
    """The entries of one file, and what is wrong with the file itself (then it should not be used).

    A shipped file named for a list that is read elsewhere is left to its reader: to read it here too would double the
    time.
    """
    if file.theme in ELSEWHERE and not file.own:
        return (), ()
    document = read(data, file.name)
    problems = list(document.problems)
    out: list[Entry] = []
    wrong = 0
    for key, node in document.root.entries if document.root else ():
        here = Value(key, file.name, key.text, Findings())
        if key.text in ELSEWHERE or (file.own and key.text in SHIPPED_ALONE):
            here.refuse("only the shipped list is read here, not one of your own", key.text)
        elif key.text not in LISTS:
            here.refuse("no such list", key.text, LISTS)
        elif isinstance(node, Mapping):
            for name, inner in node.entries:
                out.append(_entry(file, key.text, name, inner))
                wrong += len(out[-1].problems)
                if wrong >= MAX_PROBLEMS and file.own:
                    last = out[-1]
                    what = f"{MAX_PROBLEMS} problems so far: the rest of this list is not read"
                    out[-1] = replace(last, problems=(*last.problems, Issue(what, last.where)))
                    break
        elif not (isinstance(node, Scalar) and node.empty):
            here.refuse(f"'{key.text}' must be followed by entries, each an id with a colon")
        problems.extend(here.out.problems)
    return tuple(out), tuple(problems)


def _entry(file: File, list_: str, key: Scalar, node: Any) -> Entry:
    place = Place(file.name, key.line, file.own)
    path = f"{list_}.{key.text}"
    out = Findings()
    value = Value(node, file.name, path, out)
    if not ID.fullmatch(key.text) or len(key.text) > 60:
        what = "an id is lower-case letters and digits joined by hyphens, 60 characters at most"
        value.at(key, path).refuse(what, key.text[:80])
    made: Any
    if list_ in MEANINGS:
        made = words.read_meaning(value)
    else:
        keys = Fields(value.at(key, path), value.fields().entries)
        if list_ == "rules":
            made = rules.read_rule(key.text, keys, place, file.theme)
        else:
            made = READERS[list_](key.text, keys, place)
        keys.done()
    return Entry(list_, key.text, made, place, tuple(out.references), tuple(out.problems))


def unresolved(references: Iterable[Reference], ids: Callable[[str], Iterable[str]]) -> tuple[Issue, ...]:
    """A problem for each reference to an id that no list holds; ``ids`` gives the ids of a list.

    After :data:`MOST_SPELLINGS` of them no nearest spelling is looked for: that takes long.
    """
    out: list[Issue] = []
    for ref in references:
        if ref.id in ref.also or any(ref.id in ids(name) for name in ref.lists):
            continue
        allowed = [*ref.also, *(i for name in ref.lists for i in ids(name))]
        what = f"no such id among the {' and '.join(ref.lists).replace('_', ' ')}"
        close = nearest(ref.id, allowed) if len(out) < MOST_SPELLINGS else ()
        out.append(Issue(what, ref.where, ref.id, tuple(allowed), close))
    return tuple(out)
