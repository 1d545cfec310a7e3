"""From a person's own words to a case: what was heard, what is doubtful and must be asked, what was not understood."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from types import MappingProxyType

from lapwise.engine.case import Case, Outcome
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.slots import SLOTS
from lapwise.engine.words.changes import changes
from lapwise.engine.words.cues import Span
from lapwise.engine.words.heard import Hearing, Notes
from lapwise.engine.words.lexicon import TOLD, Lexicon, lexicon
from lapwise.engine.words.looks import seen as told_by_looks
from lapwise.engine.words.match import Match, exact_matches, matches, shares
from lapwise.engine.words.numbers import number_at, size_in
from lapwise.engine.words.setup import FINEST_PREPOLISH_UM, Mention, coarse, ids_of, mentions
from lapwise.engine.words.spelling import respelt
from lapwise.engine.words.symptoms import Symptoms
from lapwise.engine.words.text import STRONG, Token, sentence
from lapwise.engine.words.tries import ENDS, Tries

MOST_LETTERS = 20_000
"""Letters of a text that are read; nobody tells a case in more."""
SCRATCH = "fine-scratches"
_STEP = "prepolish"
_ONE: dict[str, str] = {"materials": "material", "laps": "lap", "compounds": "compound"}


def hear(text: str, knowledge: Knowledge, lex: Lexicon | None = None) -> Hearing:
    """Read a text. Nothing is guessed: what is doubtful stands in ``unsure`` and not in the case."""
    return _Reading(text[:MOST_LETTERS], knowledge, lex or lexicon(knowledge)).hearing()


def said_in(text: str, knowledge: Knowledge, lex: Lexicon) -> dict[str, Span]:
    """The cues of a text for its symptoms (:mod:`.cues`), each with where it stands."""
    reading = _Reading(text, knowledge, replace(lex, cues={}))
    reading.hearing()
    return reading.said


class _Reading:
    """One text being read; each step adds to what was heard or is doubtful."""

    def __init__(self, text: str, knowledge: Knowledge, lex: Lexicon) -> None:
        self.text, self.knowledge, self.lex, self.lists = text, knowledge, lex, lex.lists
        self.raw = lex.lists.tokens(text)
        self.words = respelt(lex.cut(self.raw, "filling"), lex.lists, lex.trouble_words, lex.all_words)
        self.notes = Notes(text)
        self.facts: dict[str, str] = {}
        self.ends: list[tuple[int, int]] = []
        self.said: dict[str, Span] = {}
        groups = [group for group in knowledge.appearances.values() if group.plainly]
        self.plainly = {group.plainly: frozenset(group.symptoms) for group in groups}

    def hearing(self) -> Hearing:
        self.whole = self.lex.cut(self.raw, "articles")
        self.conditions = [m for kind in TOLD for m in matches(self.words, self.lex, (kind,))]
        self.conditions += exact_matches(self.whole, self.lex, TOLD, self.words)
        self.conditions.sort(key=lambda m: m.start)
        self.troubles = self._with_exact(matches(self.words, self.lex, ("symptoms",), self.plainly), "symptoms")
        doings = self._with_exact(matches(self.words, self.lex, ("remedies",)), "remedies")
        self.doings = [m for m in doings if len(m.words) > 1 or self._as_listed(m)]
        setup_words, found = mentions(self.raw, self.lex, self.knowledge)
        found = [m for m in found if not (self._inside_a_trouble(m) or self.text[m.end : m.end + 1] == "%")]
        self.named = [(m.start, m.end) for m in found]
        stage, found = self._stage(found, setup_words)
        found = self._after_the_polish(found)
        tried_instead, found = changes(found, setup_words, self.knowledge, self.lists, self._ended)
        told = Symptoms(
            self.notes,
            self.raw,
            self.words,
            self.troubles,
            self.doings,
            self.named,
            self.plainly,
            self.knowledge,
            self.lex,
        )
        symptoms = told.told()
        self.said = told.said
        one = {kind: self._one(kind, found) for kind in _ONE}
        one["compounds"] = one["compounds"] or self._on_the_lap(found)
        prior = self._before(found)
        doings = [m for m in self.doings if not any(m.start < c.end and c.start < m.end for c in tried_instead)]
        self.doings = sorted((*doings, *tried_instead), key=lambda m: m.start)
        tried = self._tried(one["compounds"])
        self._facts(setup_words, symptoms)
        saw = self._saw()
        case = Case(
            material=one["materials"],
            lap=one["laps"],
            compound=one["compounds"],
            stage=stage,
            symptoms=tuple(symptoms),
            facts=MappingProxyType(self.facts),
            prior=prior,
            tried=tuple(tried),
            saw=tuple(saw),
        )
        heard = sorted(dict.fromkeys(self.notes.heard), key=lambda h: (h.start, h.end))
        return Hearing(case, tuple(heard), tuple(dict.fromkeys(self.notes.unsure)), self._unheard())

    def _as_listed(self, match: Match) -> bool:
        """Whether a doing told in one word is told in a form that tells it: scored, and not the score."""
        word = self.text[match.start : match.end].lower()
        also = (phrase for _, id_ in match.names for phrase in self.knowledge.remedies[id_].also)
        return not match.sure or " " in word or any(word in (phrase, phrase.replace("-", "")) for phrase in also)

    def _with_exact(self, found: Sequence[Match], kind: str) -> list[Match]:
        """With the phrases in which small words count; they stand for a single word inside them."""
        exact = [
            m
            for m in exact_matches(self.whole, self.lex, (kind,), self.words)
            if m.at and not any(len(o.at) > 1 and shares(m, o) for o in found)
        ]
        kept = [m for m in found if not any(shares(m, e) for e in exact)]
        return sorted((*kept, *exact), key=lambda m: m.start)

    def _inside_a_trouble(self, mention: Mention) -> bool:
        """Whether what looks like a name is part of a trouble told: the film of "an oily film"."""
        number = self.text[mention.start].isdigit()
        return (
            mention.at[0] == mention.at[1]
            and not number
            and any(
                len(m.at) > 1
                and any((w.start, w.end) == (mention.start, mention.end) for w in (self.words[i] for i in m.at))
                for m in self.troubles
            )
        )

    # --- what is on the machine ------------------------------------------------------------------------------

    def _stage(self, found: list[Mention], words: Sequence[Token]) -> tuple[str, list[Mention]]:
        """How far the facet is; a pre-polish that is all there is, is the one going on."""
        now = ids_of(found, "compounds")
        oxide = any(self.knowledge.compounds[i].kind == "oxide" for i in now)
        polishing = oxide or any(w.word.startswith("polish") for w in words)
        for at, token in enumerate(words):
            other = {w.key for w in words[at + 1 : at + 2]} & self.lists["no-cutting"]
            if token.word in self.lists["cutting"] and not polishing and not other:
                self.notes.note(token.start, token.end, "cutting", "stage", "cut")
                return "cut", found
        step = next((w for w in words if w.key == _STEP and w.word not in ("prepolished",)), None)
        stepwise = [m for m in found if m.stepwise]
        if step is not None and not now and (stepwise or self.text[step.start : step.end].lower().endswith("ing")):
            self.notes.note(step.start, step.end, "pre-polish", "stage", "prepolish")
            return "prepolish", [replace(m, role="now") if m.stepwise else m for m in found]
        return "polish", found

    def _after_the_polish(self, found: list[Mention]) -> list[Mention]:
        """ "Haze after cerium on felt": with no other compound named that is the polish itself, if it can be one."""
        now, before_ = ids_of(found, "compounds"), ids_of(found, "compounds", "prior")
        shines = any(t.key in self.lists["shines"] for t in self.raw)
        if not now and len(before_) == 1 and not shines and not ids_of(found, "laps") and self._coarse(before_):
            return [replace(m, role="now", sure=False) if m.names[0][1] in before_ else m for m in found]
        if len(now) == 1 and not before_ and shines and not ids_of(found, "laps") and self._coarse(now):
            return [replace(m, role="prior", sure=False) if m.names[0][1] in now else m for m in found]
        if now or not any(m.after for m in found):
            return found
        before = [self.knowledge.compounds[i] for i in ids_of(found, "compounds", "prior")]
        if not before or not all(c.typical_um and c.typical_um < FINEST_PREPOLISH_UM for c in before):
            return found
        laps = not ids_of(found, "laps")
        kinds = ("compounds", "laps") if laps else ("compounds",)
        return [replace(m, role="now") if m.role == "prior" and m.names[0][0] in kinds else m for m in found]

    def _coarse(self, ids: Iterable[str]) -> bool:
        """Whether all are diamonds too coarse to polish."""
        return all(coarse(self.knowledge.compounds[i]) for i in ids)

    def _one(self, kind: str, found: Sequence[Mention]) -> str | None:
        """The one material, lap or compound on the machine; doubtful if several are named."""
        now = ids_of(found, kind)
        if not now:
            now = ids_of(found, kind, "other") if len(ids_of(found, kind, "other")) == 1 else {}
        if kind == "materials":
            above = {up for id_ in now for up in self.knowledge.materials[id_].line[1:]}
            now = {id_: m for id_, m in now.items() if id_ not in above}
        for mention in found:
            if len(mention.names) > 1:
                self._ambiguous(mention, kind, found, now)
        if not now:
            return None
        first = next(iter(now.values()))
        if len(now) > 1:
            last = list(now.values())[-1]
            self.notes.doubt(first.start, max(first.end, last.end), _ONE[kind], now)
            return None
        id_ = next(iter(now))
        sure = first.sure and first.role == "now"
        self.notes.note(first.start, first.end, self.knowledge.label(id_), _ONE[kind], id_, sure=sure)
        for again in found:
            if any(name[0] == kind for name in again.names):
                self.notes.seen.append((again.start, again.end))
        return id_

    def _on_the_lap(self, found: Sequence[Mention]) -> str | None:
        """The oxide that the lap is named after, if no other compound is told: the ceria of a ceria composite."""
        for mention in ids_of(found, "laps").values():
            named = self.lists.tokens(self.text[mention.start : mention.end])
            for at in range(len(named)):
                for kind, id_ in self.lex.setup.get(tuple(t.key for t in named[at : at + 1]), ()):
                    if kind == "compounds" and self.knowledge.compounds[id_].kind == "oxide":
                        label = self.knowledge.label(id_)
                        self.notes.note(mention.start, mention.end, label, "compound", id_, sure=False)
                        return id_
        return None

    def _ambiguous(self, mention: Mention, kind: str, found: Sequence[Mention], now: dict[str, Mention]) -> None:
        """A name that may mean several things: clear if only one kind is still open, else asked, once."""
        settled = {k for k in _ONE if ids_of(found, k)}
        left = [name for name in mention.names if name[0] not in settled]
        if {name[0] for name in mention.names} <= settled or mention.role == "prior":
            self.notes.seen.append((mention.start, mention.end))
        elif len(left) == 1 and left[0][0] == kind:
            now.setdefault(left[0][1], mention)
        elif len(left) > 1 and left[0][0] == kind:
            self.notes.doubt(mention.start, mention.end, _ONE[kind], (id_ for _, id_ in left))

    def _before(self, found: Sequence[Mention]) -> str | None:
        """The compound of the step before, and its lap among the facts."""
        laps = ids_of(found, "laps", "prior")
        if len(laps) == 1:
            id_, mention = next(iter(laps.items()))
            self.facts["prior_lap"] = id_
            means = f"{self.knowledge.label(id_)}, the previous step"
            self.notes.note(mention.start, mention.end, means, "prior_lap", id_, sure=mention.sure)
        compounds = ids_of(found, "compounds", "prior")
        if not compounds:
            return None
        id_, mention = list(compounds.items())[-1]
        means = f"{self.knowledge.label(id_)}, the previous step"
        self.notes.note(mention.start, mention.end, means, "prior", id_, sure=mention.sure)
        return id_

    # --- facts, tries, looks ---------------------------------------------------------------------------------

    def _facts(self, setup_words: Sequence[Token], symptoms: Iterable[str]) -> None:
        told: dict[str, dict[str, Match]] = {}
        size = size_in(self.text)
        if size:
            self.facts["facet_size"] = size.value
            self.notes.note(
                size.start, size.end, f"{SLOTS['facet_size'].about}: {size.value}", "facet_size", size.value
            )
        lines = any({*symptoms} & group for group in self.plainly.values() if SCRATCH in group)
        spent = [(h.start, h.end) for h in self.notes.heard if h.key == "tried"] + self.ends
        for match in self.conditions:
            if match.denied or any(start <= match.start < end for start, end in spent):
                continue  # what tells a try and its end tells nothing else
            for _, name in match.names:
                key, _, value = name.partition("=")
                if key in ("outcome", "stage") or (size and key == "facet_size"):
                    continue
                if lines or not key.startswith("scratch_"):
                    told.setdefault(key, {}).setdefault(value, match)
        for key, values in told.items():
            value, match = next(iter(values.items()))
            if len(values) > 1:
                self.notes.doubt(match.start, match.end, key, (f"{key}={v}" for v in values))
            else:
                self.facts[key] = value
                means = f"{SLOTS[key].about}: {value.replace('-', ' ')}"
                self.notes.note(match.start, match.end, means, key, value, id_=f"{key}={value}", sure=match.sure)
        for at, token in enumerate(setup_words):
            number = number_at(setup_words, at, self.lists)
            unit = at + number.size if number else 0
            if number and unit < len(setup_words) and setup_words[unit].word == "rpm" and 0 < number.value <= 5000:
                rpm, end = f"{number.value:g}rpm", setup_words[unit].end
                self.facts["speed"] = rpm
                self.notes.note(
                    token.start, end, f"{SLOTS['speed'].about}: {number.value:g} rpm", "speed", rpm, id_=f"speed={rpm}"
                )

    def _tried(self, compound: str | None) -> list[tuple[str, Outcome]]:
        kind = self.knowledge.compounds[compound].kind if compound else ""
        out: dict[str, Outcome] = {}
        for told in Tries(self.text, self.raw, self.conditions, kind, self.lists).told(self.doings):
            match, (first, *others) = told.match, told.remedies
            if told.outcome is None:
                asked = told.remedies if others else [f"{first}={o}" for o in ("no-change", "better", "worse")]
                self.notes.doubt(match.start, match.end, "tried", asked)
                continue
            out[first] = told.outcome
            means = f"{self.knowledge.label(first)}: {told.outcome.replace('-', ' ')}"
            value = f"{first}={told.outcome}"
            self.notes.note(match.start, match.end, means, "tried", value, id_=first, sure=told.sure)
            if told.end is not None:
                self.notes.seen.append((told.end.start, told.end.end))
                self.ends.append((told.end.start, told.end.end))
        return list(out.items())

    def _ended(self, at: int) -> str:
        """The first end of a try that is told in the rest of a letter's sentence, or in the next one; "" if none is."""
        last = sentence(self.raw, sentence(self.raw, at)[1] + 2)[1] + 1
        ends = [m for m in self.conditions if at <= m.start < last and m.names[0][1].startswith(ENDS)]
        return next((m.names[0][1].removeprefix(ENDS) if not m.denied else "no-change" for m in ends), "")

    def _saw(self) -> list[tuple[str, str]]:
        out: dict[str, str] = {}
        spent = [*self.ends, *((m.start, m.end) for m in self.doings if not m.denied)]
        for told in told_by_looks(self.raw, spent, self.lex):
            self._note_look(out, told.look, told.result, told.start, told.end, sure=False)
        looks = [m for m in matches(self.words, self.lex, ("looks",)) if not m.denied]
        for match in matches(self.words, self.lex, ("results",)):
            before = {id_ for m in looks if self._soon(m.start, match.start) for _, id_ in m.names}
            pairs = [n.partition("=") for _, n in match.names]
            spoken = [(look, result) for look, _, result in pairs if look in before or len(match.at) > 2]
            spoken = [s for s in spoken if s[0] not in self.lex.looks or len(match.at) > 1]
            if match.denied or len(spoken) != 1 or any(start < match.end and match.start < end for start, end in spent):
                continue
            self._note_look(out, *spoken[0], match.start, match.end, sure=match.sure)
        return list(out.items())

    def _note_look(self, out: dict[str, str], look: str, result: str, start: int, end: int, *, sure: bool) -> None:
        """Note what a look showed, if it was not told before."""
        if look not in out:
            out[look] = result
            seen = self.knowledge.looks[look].result_labels.get(result, result)
            means = f"{self.knowledge.label(look)}: {seen}"
            self.notes.note(start, end, means, "saw", f"{look}={result}", id_=look, sure=sure)

    def _soon(self, one: int, other: int) -> bool:
        """Whether a letter stands in the same sentence as another, or in one beside it."""
        low, high = sorted((one, other))
        return sum(t.gap == STRONG for t in self.raw if low < t.start <= high) <= 1

    def _unheard(self) -> tuple[str, ...]:
        out = []
        for token in self.raw:
            covered = any(start <= token.start < end for start, end in self.notes.seen)
            plain = token.word in self.lists["filling"] or token.key in self.lists["plain"]
            if not covered and len(token.word) > 2 and not plain:
                out.append(self.text[token.start : token.end])
        return tuple(dict.fromkeys(out))
