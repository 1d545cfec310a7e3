"""Anything known about an id, in lines that a person can read and as plain JSON."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, is_dataclass
from typing import Any

from lapwise.engine.conclusions import OTHER
from lapwise.engine.errors import BadInput
from lapwise.engine.knowledge.model import KINDS, Cleavage, Knowledge, Level, Note, Pair, Span, Target
from lapwise.engine.knowledge.place import Place, Source
from lapwise.engine.knowledge.rule_model import CONCLUSIONS, AllOf, Rule, Then
from lapwise.engine.knowledge.rule_words import conclusions, condition_words
from lapwise.engine.knowledge.walk import Named, names, statements, tests
from lapwise.engine.slots import SLOTS

_TITLES = {
    "line": "belongs to",
    "mohs": "hardness",
    "sg": "specific gravity",
    "ri": "refractive index",
    "polishes_with": "polishes with, best first",
    "also": "also said as",
    "um": "grain",
    "typical_um": "usual grain (µm)",
    "rpm": "usual speed (rpm)",
    "hardness": "hardness of the body (1 to 10)",
    "base": "how often",
    "setup_group": "set-up shared with",
    "setup_minutes": "set-up minutes",
    "wait_minutes": "minutes of waiting",
    "wait_for": "waiting for",
    "to": "changes to",
    "worse_chance": "makes it worse",
    "worse_minutes": "minutes lost if worse",
    "when": "when",
    "then": "then",
    "result_labels": "what it may show",
    "otherwise": "shown by other causes",
    "says": "shown by",
    "cite": "work",
}
_SKIP = frozenset({"id", "place", "label", "results", "results_also", "told", "only", "tier", "theme"})


@dataclass(frozen=True, slots=True)
class Shown:
    """What is known of one id. ``lines``: (title, lines). ``rules``: rules that speak of it, and by rule id in which
    ``roles``. ``used_by``: what else names it. ``sources``: those of the entry itself.
    """

    id: str
    kind: str
    label: str
    place: Place | None
    lines: tuple[tuple[str, tuple[str, ...]], ...]
    rules: tuple[Rule, ...]
    roles: Mapping[str, tuple[str, ...]]
    used_by: tuple[Named, ...]
    sources: tuple[Source, ...]
    entry: Any

    def as_json(self) -> dict[str, Any]:
        """Flat: id, kind, label, own, file, line, the entry itself, rules, used_by and sources."""
        return {
            "id": self.id,
            "kind": self.kind,
            "label": self.label,
            "own": bool(self.place and self.place.own),
            "file": self.place.file if self.place else None,
            "line": self.place.line if self.place else None,
            "entry": plain(self.entry),
            "rules": [
                {"id": r.id, "roles": list(self.roles[r.id]), "because": r.because, "source": r.source}
                for r in self.rules
            ],
            "used_by": [{"id": n.by, "key": n.key} for n in self.used_by],
            "sources": [{"id": s.id, "cite": s.cite, "status": s.status, "address": s.address} for s in self.sources],
        }


def all_ids(knowledge: Knowledge) -> tuple[str, ...]:
    """Every id that can be shown, sorted."""
    ids = {id_ for kind in KINDS for id_ in getattr(knowledge, kind)}
    return tuple(sorted(ids | set(SLOTS) | set(knowledge.scales.because)))


def find(knowledge: Knowledge, word: str) -> tuple[str, str]:
    """(kind, id) of a word: an id, or the label or other name of something; raises :class:`BadInput` if there is none.

    A condition (``wetness``) is of kind "conditions", a scale of kind "scales".
    """
    for kind in KINDS:
        if word in getattr(knowledge, kind):
            return kind, word
    if word in SLOTS or word.replace("-", "_") in SLOTS:
        return "conditions", word.replace("-", "_")
    if word in knowledge.scales.because:
        return "scales", word
    if word == OTHER:
        return "causes", OTHER
    wanted = word.strip().casefold()
    for kind in KINDS:
        for id_, entry in getattr(knowledge, kind).items():
            called = (getattr(entry, "label", ""), *getattr(entry, "also", ()))
            if wanted and wanted in (name.casefold() for name in called):
                return kind, id_
    raise BadInput.unknown("nothing is known by this name", word, all_ids(knowledge), "lapwise knowledge show")


def show(knowledge: Knowledge, word: str) -> Shown:
    """Everything known about an id; raises :class:`BadInput` with the nearest ids if there is none."""
    kind, id_ = find(knowledge, word)
    named = tuple(n for n in names(knowledge) if n.id == id_ and n.by != id_) if kind in KINDS else ()
    rules = tuple(knowledge.rules[r] for r in sorted({n.by for n in named if n.by in knowledge.rules}))
    others = tuple(dict.fromkeys(n for n in named if n.by not in knowledge.rules))
    entry: Any
    lines: tuple[tuple[str, tuple[str, ...]], ...]
    if kind == "conditions":
        slot = SLOTS[id_]
        entry, label, place = {"values": list(slot.values), "unit": slot.unit}, slot.about, None
        values = tuple(v.replace("@", "any of the ").replace("_", " ") for v in slot.values)
        lines = (("values", values or (f"a number ({slot.unit or 'no unit'})",)),)
        rules = tuple(r for r in knowledge.rules.values() if any(t.slot == id_ for t in tests(r.when)))
    elif kind == "scales":
        value = getattr(knowledge.scales, id_)
        entry, label, place = value, knowledge.scales.because[id_], knowledge.scales.place
        lines = (("numbers", tuple(_lines(value))),)
    elif kind == "causes" and id_ == OTHER:
        entry, label, place = {"share": knowledge.scales.other_share}, "something that is not listed here", None
        lines = (("share before anything is known", (f"{knowledge.scales.other_share:g}",)),)
    else:
        entry = getattr(knowledge, kind)[id_]
        label = entry if isinstance(entry, str) else getattr(entry, "label", "") or getattr(entry, "cite", id_)
        place = getattr(entry, "place", None)
        lines = () if isinstance(entry, str) else tuple(_titled(entry))
    used = sorted({s.source for s in statements(knowledge) if s.by == id_ and s.source in knowledge.sources})
    roles = {rule.id: roles_of(rule, id_) for rule in rules}
    cited = tuple(knowledge.sources[s] for s in used)
    return Shown(id_, kind, label, place, lines, rules, roles, others, cited, entry)


def roles_of(rule: Rule, id_: str) -> tuple[str, ...]:
    """How a rule speaks of an id: what it concludes of it and how strongly, "asks for it", or "source"."""
    out = []
    for kind in CONCLUSIONS:
        value = getattr(rule.then, kind.field)
        if id_ in value:
            out.append(f"{kind.title} {value[id_]}" if kind.weighed else kind.title)
    if any(id_ in (test.slot, *test.any_of) or f"{id_}=" in "".join(test.any_of) for test in tests(rule.when)):
        out.append("asks for it")
    if rule.source == id_:
        out.append("source")
    return tuple(out)


def plain(value: Any) -> Any:
    """Any part of the knowledge as JSON: dataclasses as objects, sets as sorted lists, conditions in words."""
    if isinstance(value, AllOf):
        return [condition_words(part) for part in value.parts]
    if is_dataclass(value) and not isinstance(value, type):
        return {f.name: plain(getattr(value, f.name)) for f in fields(value) if f.name not in ("place", "tier")}
    if isinstance(value, Mapping):
        return {key: plain(inner) for key, inner in value.items()}
    if isinstance(value, frozenset):
        return sorted(value)
    if isinstance(value, tuple | list):
        return [plain(inner) for inner in value]
    return value


def _titled(entry: Any) -> Iterator[tuple[str, tuple[str, ...]]]:
    for f in fields(entry):
        value = getattr(entry, f.name)
        if f.name in _SKIP or value is None or value == "" or value is False:
            continue
        if f.name == "line":
            value = value[1:]
        lines = tuple(_lines(value))
        if len(lines) > 1 and not any(" " in line for line in lines):
            lines = (", ".join(lines),)
        if lines:
            yield _TITLES.get(f.name, f.name.replace("_", " ")), lines


def _lines(value: Any) -> Iterator[str]:
    if isinstance(value, Then):
        for key, what in conclusions(value):
            yield f"{key}: {what}"
    elif isinstance(value, AllOf):
        yield from map(condition_words, value.parts)
    elif isinstance(value, Span):
        numbers = f"{value.low:g}" if value.low == value.high else f"{value.low:g} to {value.high:g}"
        unit = "" if value.unit == "1" else f" {value.unit}"
        yield f"{numbers}{unit} ({value.source}{', from memory' if value.memory else ''})"
    elif isinstance(value, Level):
        yield f"{value.level}: {value.because} ({value.source})"
    elif isinstance(value, Cleavage):
        near = f", dangerous within {value.keep_off_degrees:g}°" if value.keep_off_degrees else ""
        yield f"{value.quality}, {value.plane}{near} ({value.source})"
    elif isinstance(value, Pair):
        yield pair_in_words(value)
    elif isinstance(value, Note):
        yield f"{value.text} ({value.source})"
    elif isinstance(value, Target):
        yield from _target_lines(value)
    elif isinstance(value, Mapping):
        for key, inner in value.items():
            yield f"{key}: {', '.join(_lines(inner))}"
    elif isinstance(value, frozenset):
        yield from sorted(value)
    elif isinstance(value, tuple):
        for inner in value:
            yield from _lines(inner)
    elif isinstance(value, bool):
        yield "yes"
    elif isinstance(value, float | int):
        yield f"{value:g}"
    else:
        yield str(value)


def pair_in_words(pair: Pair) -> str:
    """``acrylic-lap or phenolic-lap with cerium-oxide: why (source)``."""
    laps = " or ".join(pair.laps) or "any lap"
    compounds = " or ".join(pair.compounds) or "any compound"
    stage = "" if pair.stage == "polish" else f" for {pair.stage}"
    return f"{laps} with {compounds}{stage}{': ' + pair.because if pair.because else ''} ({pair.source})"


def _target_lines(to: Target) -> Iterator[str]:
    if to.relation:
        yield "a step in between" if to.relation == "between" else f"{to.relation} than now"
    for words, what in ((to.laps, "laps"), (to.lap_traits, "laps that are"), (to.compounds, "compounds")):
        if words:
            yield f"{what}: {' or '.join(words)}"
    if to.kinds:
        yield f"kind of compound: {' or '.join(to.kinds)}"
    if to.keep != "nothing":
        yield f"keeps the {to.keep}"
