"""Tries told by what was put on the machine instead: another lap, another compound, or both."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.words.match import Match
from lapwise.engine.words.setup import UNGRADED, Mention, coarse
from lapwise.engine.words.text import COMMA, STRONG, Lists, Token

_NEAR, _BEHIND, _WITHIN = 6, 4, 4
"""Words before a name that its verb stands in; words behind it that "instead" stands in; words between a lap and its
compound."""
_SOFT = {"wax-lap": "to-wax-or-wood-lap", "wood-lap": "to-wax-or-wood-lap", "polishing-film": "to-polishing-film"}
_CUTTING = ("plated-diamond-lap", "sintered-diamond-lap", "resin-diamond-lap")
_TO = {**_SOFT, "composite-lap": "to-composite-lap", "oxide-composite-lap": "to-composite-lap"}


def changes(
    found: Sequence[Mention], words: Sequence[Token], knowledge: Knowledge, lists: Lists, ended: Callable[[int], str]
) -> tuple[list[Match], list[Mention]]:
    """The tries, and the names with their roles: what was tried instead is not what the trouble is told of.

    ``found``: as :func:`lapwise.engine.words.setup.mentions` has them; ``words``: as cut for set-ups; ``ended``:
    the end of a try that is told soon behind a letter, "" if none is.
    """
    out = list(found)
    tries: list[Match] = []
    for group in _groups(out, words):
        first, last = out[group[0]], out[group[-1]]
        if any(out[i].role == "prior" for i in group) or not (_led(words, out, group, lists) or _begins(words, first)):
            continue
        base = _base(out, group, words)
        target = {out[i].names[0][0]: out[i].names[0][1] for i in group if not _same(words, out[i])}
        remedy = _remedy(base, target, knowledge)
        if not remedy or not ended(last.end):
            continue
        if not _led(words, out, group, lists) and len(base) < len(target):
            continue
        tries.append(Match((("remedies", remedy),), (), (), first.start, last.end, denied=False, sure=True))
        if ended(last.end) not in ("fixed", "worse"):
            continue  # it may well have stayed on the machine
        for i in group:
            out[i] = replace(out[i], role="other")
        for i, mention in enumerate(out):  # from zinc to tin
            kind, id_ = mention.names[0]
            was = mention.role == "prior" and base.get(kind) == id_ and kind in target
            if was and not (kind == "compounds" and coarse(knowledge.compounds[id_])):
                out[i] = replace(mention, role="now")
    return tries, out


def _same(words: Sequence[Token], mention: Mention) -> bool:
    """Whether it is told to be the one that is on already: the same tin lap."""
    at = mention.at[0]
    return any(w.word == "same" for w in words[max(0, at - 1) : at + 1])


def _groups(found: Sequence[Mention], words: Sequence[Token]) -> Iterable[list[int]]:
    """Places of the names of one lap, one compound, or both that stand beside each other."""
    at = 0
    while at < len(found):
        if not _tool(found[at]):
            at += 1
            continue
        group = [at]
        if at + 1 < len(found) and _tool(found[at + 1]) and found[at + 1].names[0][0] != found[at].names[0][0]:
            first, second = found[at].at[1], found[at + 1].at[0]
            if second - first <= _WITHIN and not any(w.gap >= COMMA for w in words[first + 1 : second + 1]):
                group.append(at + 1)
        yield group
        at = group[-1] + 1


def _tool(mention: Mention) -> bool:
    return len(mention.names) == 1 and mention.names[0][0] in ("laps", "compounds")


def _led(words: Sequence[Token], found: Sequence[Mention], group: Sequence[int], lists: Lists) -> bool:
    """Whether a verb of change leads up to the names, or "instead" follows."""
    first, last = found[group[0]].at[0], found[group[-1]].at[1]
    behind = []
    for word in words[last + 1 : last + 1 + _BEHIND]:
        if word.gap == STRONG:
            break
        behind.append(word)
    at, before = first, []
    while at > 0 and first - at < _NEAR and words[at].gap < COMMA:
        at -= 1
        before.append(words[at])
    near = [w.key for w in (*before, *behind[:3])]
    if lists["no-change"] & {*near}:
        return False
    if before and before[0].word in lists["change-from"]:
        return False
    return bool(lists["change-verbs"] & {w.key for w in before}) or "instead" in {w.word for w in (*behind, *before)}


def _begins(words: Sequence[Token], first: Mention) -> bool:
    """Whether the names begin a sentence: ceria on film brought it up."""
    at = first.at[0]
    led = at and words[at - 1].word in ("on", "with", "then") and words[at - 1].gap == STRONG
    return bool(at and (words[at].gap == STRONG or led))


def _base(found: Sequence[Mention], group: Sequence[int], words: Sequence[Token]) -> dict[str, str]:
    """Lap and compound told of before these, or told after them as what they came from: to tin from the ceramic."""
    out: dict[str, str] = {}
    for mention in found[group[-1] + 1 : group[-1] + 2]:
        at = mention.at[0]
        gaps = [w.gap for w in words[found[group[-1]].at[1] + 1 : at + 1]]
        if _tool(mention) and words[at - 1].word == "from" and not any(gaps):
            out.setdefault(*mention.names[0])
    for role in ("now", "prior"):
        for mention in found[: group[0]]:
            if _tool(mention) and mention.role == role:
                out.setdefault(*mention.names[0])
    return out


def _remedy(base: dict[str, str], target: dict[str, str], knowledge: Knowledge) -> str:
    """What going from one set-up to another is called; "" if it is none that can be told."""
    moved = {kind: id_ for kind, id_ in target.items() if base.get(kind) != id_}
    if "compounds" in moved and "compounds" in base:
        pair = [knowledge.compounds[at["compounds"]] for at in (base, moved)]
        if coarse(pair[0]) != coarse(pair[1]):
            return ""
    if moved.get("laps") in _CUTTING and "laps" not in base:
        del moved["laps"]
    if len(moved) == 2:
        return "change-lap-and-compound" if base else ""
    if "laps" in moved:
        lap = moved["laps"]
        if lap in _TO:
            return _TO[lap]
        before, now = knowledge.laps.get(base.get("laps", "")), knowledge.laps[lap]
        if before is None or before.hardness == now.hardness:
            return ""
        return "softer-lap" if now.hardness < before.hardness else "harder-lap"
    if "compounds" in moved and "compounds" in base:
        before_, now_ = knowledge.compounds[base["compounds"]], knowledge.compounds[moved["compounds"]]
        if before_.kind != now_.kind:
            return {"diamond": "oxide-to-diamond", "oxide": "diamond-to-oxide"}.get(now_.kind, "")
        if before_.kind == "oxide" and before_.id.split("-")[:2] != now_.id.split("-")[:2]:
            return "change-oxide"
        grains = (before_.typical_um or 0.0, now_.typical_um or 0.0)
        if UNGRADED in (before_.id, now_.id) or grains[0] == grains[1]:
            return ""
        return "finer-compound" if grains[1] < grains[0] else "coarser-compound"
    return ""
