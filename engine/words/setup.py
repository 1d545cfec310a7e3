"""Stone, lap and compound in a text: where each is named, and whether it is on the machine now or was before."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from lapwise.engine.knowledge.model import Compound, Knowledge
from lapwise.engine.words.lexicon import Lexicon, Name
from lapwise.engine.words.numbers import diamond_grades, number_at
from lapwise.engine.words.spelling import respelt
from lapwise.engine.words.text import COMMA, STRONG, WEAK, Lists, Token

Role = Literal["now", "prior", "other"]
UNGRADED = "diamond-unknown"
FINEST_PREPOLISH_UM = 2.0
"""A compound of grains below this is a polish: the convention of the trade, from memory."""
_STEP = "prepolish"
_GLASS, _SMOKY = "glass", "smoky-quartz"
_ONLY_ALONE = {_GLASS: ("glass",), _SMOKY: ("smoky",)}
"""Stones whose bare name says something else beside the name of another: under the glass, bright but smoky."""
_FELT = "felt"
_FILM = "film"
WAX_LAP, _WAX = "wax-lap", "wax"
PLATED, _PLATE = "plated-diamond-lap", "plate"


@dataclass(frozen=True, slots=True)
class Mention:
    """``names``: all it may mean. ``at``: its first and last word among the words cut for set-ups."""

    names: tuple[Name, ...]
    at: tuple[int, int]
    start: int
    end: int
    sure: bool = True
    role: Role = "now"
    stepwise: bool = False
    """It was called a pre-polish, in words that fit a pre-polish going on as well."""
    after: bool = False
    """"After" led to it: the step before, or the very polish after which the trouble is seen."""


def mentions(text: Sequence[Token], lex: Lexicon, knowledge: Knowledge) -> tuple[list[Token], list[Mention]]:
    """The words as cut for set-ups, and every stone, lap and compound named in them, in order, with its role."""
    lists = lex.lists
    words = respelt(lex.cut(text, "articles"), lists, lex.setup_words, lex.words, lex.stone_words)
    out: list[Mention] = []
    at = 0
    while at < len(words):
        found = _at(words, at, lex, knowledge)
        lies = found is not None and _lies_on_the_stone(found, words, lex)
        if found is None or lies or _likeness(found, words, lists) or _no_name(found, words, lists):
            at += 1
            continue
        out.append(found)
        at = found.at[1] + 1
        if found.names[0][1].startswith("diamond-") and at < len(words) and words[at].key == _PLATE:
            plate = words[at]  # a 600 plate: a lap with its grains plated on
            out.append(Mention((("laps", PLATED),), (at, at), plate.start, plate.end))
            at += 1
    out = _without_bare(out, words)
    roled = _tried_later([_with_role(m, words, out, lists) for m in _graded(out)], words, lists)
    return words, _steps(roled, knowledge)


def coarse(compound: Compound) -> bool:
    """Whether it is a diamond that cuts or pre-polishes."""
    return compound.kind == "diamond" and (compound.typical_um or 0.0) >= FINEST_PREPOLISH_UM


def _without_bare(found: list[Mention], words: Sequence[Token]) -> list[Mention]:
    """Without bare words that name a stone only where no other is named."""
    bare = [
        m
        for m in found
        if m.at[0] == m.at[1] and words[m.at[0]].word in _ONLY_ALONE.get(m.names[0][1], ()) and len(m.names) == 1
    ]
    others = [m for m in found if m.names[0][0] == "materials" and m not in bare]
    return [m for m in found if m not in bare] if others else found


def _steps(found: list[Mention], knowledge: Knowledge) -> list[Mention]:
    """Of a polish and coarser grades all named alike, the polish is the one going on, the others were before, each with
    the lap named nearest to it; not surely."""
    now = [m for m in found if m.role == "now" and len(m.names) == 1 and m.names[0][0] == "compounds"]
    grains = {m: knowledge.compounds[m.names[0][1]].typical_um or 0.0 for m in now}
    fine = {m.names[0][1] for m in now if 0 < grains[m] < FINEST_PREPOLISH_UM}
    rough = [m for m in now if grains[m] >= FINEST_PREPOLISH_UM]
    if len(fine) != 1 or not rough or len(fine) + len({m.names[0][1] for m in rough}) < len({m.names for m in now}):
        return found
    laps = [m for m in found if m.role == "now" and len(m.names) == 1 and m.names[0][0] == "laps"]
    before = list(rough)
    for lap in laps if len({m.names for m in laps}) > 1 else ():
        near = min(now, key=lambda m: min(abs(m.at[0] - lap.at[1]), abs(lap.at[0] - m.at[1])))
        before += [lap] * (near in rough)
    return [
        replace(m, role="prior", sure=False) if m in before else replace(m, sure=m.sure and m not in now) for m in found
    ]


def _likeness(mention: Mention, words: Sequence[Token], lists: Lists) -> bool:
    """Whether the name of a stone only says what something looks like: like glass, it looks smoky."""
    first, last = mention.at
    after = words[last + 1 : last + 2]
    if any(w.word == "like" and not w.gap for w in after) and mention.names[0][0] == "materials":
        return True  # garnet-like
    if words[first].gap:
        return False
    reach = 2 if mention.names[0][0] == "materials" else 1
    return any(w.word in lists["likeness"] for w in words[max(0, first - reach) : first])


def _no_name(mention: Mention, words: Sequence[Token], lists: Lists) -> bool:
    """Whether a word that names a lap, a stone or a grade elsewhere says something else here: it felt warm, a felt pen,
    under the glass, 100%."""
    first, last = mention.at
    before = words[first - 1].word if first and not words[first].gap else ""
    after = words[last + 1] if last + 1 < len(words) and not words[last + 1].gap else None
    kind, id_ = mention.names[0]
    if kind == "laps" and after is not None and after.key in lists["no-lap"]:
        return True
    if first == last and words[first].word == _FELT:
        return before not in lists["before-felt"] and (after is None or after.word not in lists["after-felt"])
    return first == last and id_ == _GLASS and words[first].word == _GLASS and before in lists["lens"]


def _lies_on_the_stone(mention: Mention, words: Sequence[Token], lex: Lexicon) -> bool:
    """Whether a film is one that lies on the stone: a film on my quartz, a film over the table."""
    first, last = mention.at
    after = [w for w in words[last + 1 : last + 3] if not w.gap]
    if first != last or words[first].key != _FILM or len(after) < 2 or after[0].word not in ("on", "over", "across"):
        return False
    key = after[1].key
    return key in lex.lists["of-the-stone"] or any(n[0] == "materials" for n in lex.setup.get((key,), ()))


def _tried_later(found: list[Mention], words: Sequence[Token], lists: Lists) -> list[Mention]:
    """What "went to" leads to in a later sentence than another of its kind was tried since, and is not what is told of.

    A diamond without its grade, where one with its grade is told, is that one.
    """
    now = [m for m in found if m.role == "now" and len(m.names) == 1]
    graded = any(i.startswith("diamond-") and i != UNGRADED for m in now for _, i in m.names)
    out: list[Mention] = []
    for mention in found:
        kind, id_ = mention.names[0]
        start, role = mention.at[0], mention.role
        if id_ == PLATED and role == "now" and out and out[-1].at[1] == start - 1:
            role = out[-1].role
        led = [w.word for w in words[max(0, start - 3) : start]]
        turned = any(led[i] in lists["went-to"] and led[i + 1] == "to" for i in range(len(led) - 1))
        before = [m for m in now if m.at[1] < start and m.names[0][0] == kind != "materials"]
        parted = any(any(w.gap == STRONG for w in words[m.at[1] + 1 : start + 1]) for m in before)
        if role == "now" and ((turned and parted) or (graded and id_ == UNGRADED and len(mention.names) == 1)):
            role = "other"
        out.append(replace(mention, role=role))
    return out


def _at(words: Sequence[Token], at: int, lex: Lexicon, knowledge: Knowledge) -> Mention | None:
    for size in range(min(lex.longest, len(words) - at), 0, -1):
        run = words[at : at + size]
        if any(t.gap == STRONG for t in run[1:]):
            continue
        names = lex.setup.get(tuple(t.key for t in run))
        parted = any(t.gap == COMMA and not t.word[0].isdigit() for t in run[1:])
        if names and not (parted and names[0][0] == "compounds"):  # alumina, fine scratches
            sure = all(isinstance(t, Token) and t.word != "" for t in run) and not any(_bent(t) for t in run)
            return Mention(names, (at, at + size - 1), run[0].start, run[-1].end, sure)
    if words[at].key == _WAX and _beside_a_compound(words, at, lex, knowledge):
        return Mention((("laps", WAX_LAP),), (at, at), words[at].start, words[at].end)
    number = number_at(words, at, lex.lists)
    if number is None:
        return None
    around = {w.key for w in words[max(0, at - 2) : at + number.size + 2]}
    if {"carbid", "sic"} & around:
        return None
    ids = diamond_grades(knowledge, number)
    end = at + number.size - 1
    return Mention(tuple(("compounds", i) for i in ids), (at, end), words[at].start, words[end].end) if ids else None


def _beside_a_compound(words: Sequence[Token], at: int, lex: Lexicon, knowledge: Knowledge) -> bool:
    """Whether wax stands beside a compound, so that it is the lap and not what the stone is stuck with."""
    if {w.key for w in words[max(0, at - 3) : at + 4]} & lex.lists["dopping"]:
        return False
    for start in range(max(0, at - 3), min(len(words), at + 3)):
        gaps = [w.gap for w in words[min(start, at) + 1 : max(start, at) + 1]]
        if start == at or STRONG in gaps:
            continue
        if any(n[0] == "compounds" for n in lex.setup.get((words[start].key,), ())):
            return True
        number = number_at(words, start, lex.lists)
        if number is not None and diamond_grades(knowledge, number):
            return True
    return False


def _bent(token: Token) -> bool:
    return token.word.startswith("~")


def _graded(found: list[Mention]) -> list[Mention]:
    """Without the bare word diamond where a grade stands beside it."""
    graded = [m for m in found if any(i.startswith("diamond-") and i != UNGRADED for _, i in m.names)]
    return [
        m
        for m in found
        if ("compounds", UNGRADED) not in m.names
        or not any(min(abs(m.at[0] - g.at[1]), abs(g.at[0] - m.at[1])) <= 3 for g in graded)
    ]


def _with_role(mention: Mention, words: Sequence[Token], found: Sequence[Mention], lists: Lists) -> Mention:
    first, last = mention.at
    named = {i for m in found for i in range(m.at[0], m.at[1] + 1)}
    kind = mention.names[0][0]
    if kind == "materials":
        ahead = list(itertools.takewhile(lambda w: not w.gap, words[last + 1 : last + 6]))
        came_well = any(w.key in lists["went-well"] for w in ahead[:3]) or any(w.word == "same" for w in ahead)
        return replace(mention, role="other" if came_well or _elsewhere(words, first, lists) else "now")
    after = list(words[last + 1 : last + 5])
    if _for_the_step(words, last, named, lists):
        return replace(mention, role="prior", stepwise=True)
    if [w.word for w in after[:2]] == ["on", "it"] and kind == "compounds":
        return replace(mention, role="other")
    if after and kind == "compounds" and after[0].key in lists["left-marks"] and not after[0].gap:
        return replace(mention, role="prior")
    beyond = next((i for i in range(last + 1, len(words)) if i not in named), last + 1)
    step = words[beyond] if beyond < len(words) else None
    if step and step.key == _STEP and not any(w.gap for w in words[last + 1 : beyond + 1]):
        return replace(mention, role="prior", stepwise=_led(words, first, named, lists) in ("", "at"))
    if led := _led(words, first, named, lists):
        return replace(mention, role="prior", after=led == "after")
    if (
        after
        and after[0].gap <= WEAK
        and (
            after[0].word in ("before", "first", "previously", "then")
            or (after[0].word in ("step", "lap") and len(after) > 1 and after[1].word in ("before", "earlier"))
        )
    ):
        return replace(mention, role="prior")
    if _then_another(words, last, named, lists):
        return replace(mention, role="prior")
    if _prepolished(words, first, named, lists):
        return replace(mention, role="prior", stepwise=not any(w.word in lists["past-step"] for w in words))
    led_by = {w.key for w in words[max(0, first - 1) : first] if w.gap < STRONG}
    if led_by & lists["instead-of"] or _elsewhere(words, first, lists):
        return replace(mention, role="other")
    return mention


def _led(words: Sequence[Token], first: int, named: set[int], lists: Lists) -> str:
    """The word such as "after" that leads up to what begins at ``first``, with nothing else between; "" if none."""
    at = first
    while at > 0 and first - at < 7:
        if words[at].gap == STRONG or (words[at].gap and words[at].word not in ("and",)):
            return ""
        at -= 1
        word = words[at]
        if word.word in lists["now"]:
            return ""
        if word.word in lists["step-before"]:
            return word.word
        if at not in named and word.key not in lists["step-small"] and number_at(words, at, lists) is None:
            return ""
    return ""


def _for_the_step(words: Sequence[Token], last: int, named: set[int], lists: Lists) -> bool:
    """Whether "for the pre-polish" follows, with names and small words alone between."""
    for at in range(last + 1, min(last + 6, len(words) - 1)):
        if words[at].gap >= COMMA:
            return False
        if words[at].word in ("for", "as"):
            return words[at + 1].key == _STEP
        if at not in named and words[at].key not in lists["step-small"]:
            return False
    return False


def _then_another(words: Sequence[Token], last: int, named: set[int], lists: Lists) -> bool:
    """Whether "then" and another name follow, with names and small words alone between: 8k on copper, then 60k."""
    for at in range(last + 1, min(last + 7, len(words) - 1)):
        if words[at].gap == STRONG:
            return False
        if words[at].word == "then":
            return at + 1 in named
        if words[at].word == "left" and not words[at].gap and at == last + 1:
            return any(i > at for i in named)  # the 1200 left it clean
        if at not in named and words[at].key not in lists["step-small"]:
            return False
    return False


def _prepolished(words: Sequence[Token], first: int, named: set[int], lists: Lists) -> bool:
    """Whether "pre-polished" (or "pre-polish was") governs what begins at ``first``."""
    at = first
    while at > 0:
        if words[at].gap == STRONG or words[at].word in lists["now-polishing"]:
            return False
        at -= 1
        if words[at].key == _STEP:
            behind = at and at - 1 in named and not words[at].gap  # 8k copper pre-polish, tin 60k
            return not (behind and any(w.gap for w in words[at + 1 : first + 1]))
        if first - at > 6:
            return False
    return False


def _elsewhere(words: Sequence[Token], first: int, lists: Lists) -> bool:
    """Whether the words before speak of another stone or another try."""
    at = first
    while at > 0 and first - at < 5:
        if words[at].gap:
            return False
        at -= 1
        if words[at].key in lists["elsewhere"]:
            return True
    return False


def ids_of(found: Iterable[Mention], kind: str, role: Role = "now") -> dict[str, Mention]:
    """The clear ids of one kind in one role, each with where it was first named."""
    out: dict[str, Mention] = {}
    for mention in found:
        if mention.role == role and len(mention.names) == 1 and mention.names[0][0] == kind:
            out.setdefault(mention.names[0][1], mention)
    return out
