"""What is asked of a case: what is on the machine, what is seen, what else is known, which look, what it showed."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Any, cast

from textual.app import App

from lapwise.engine.case import Case
from lapwise.engine.errors import BadInput, LapwiseError
from lapwise.engine.slots import CONDITIONS, MACHINE, SLOTS, question
from lapwise.engine.wording import capital, small
from lapwise.tui.controller import Controller
from lapwise.tui.open_case import ended, merged, stated, with_fact
from lapwise.tui.present.case import key_name, mistaken, name_of, told_name, value_name
from lapwise.tui.present.words import minutes, saves
from lapwise.tui.screens.asking import choose, choose_or_leave_open, choose_several, fill_in
from lapwise.tui.screens.entry import DO_NOT_KNOW, Entry, entry_of, result_entries, symptom_entries, value_entries

if TYPE_CHECKING:
    from lapwise.engine.knowledge.model import Knowledge, Look
    from lapwise.engine.slots import Measure
    from lapwise.tui.screens.base import Program

ENDS = (
    Entry("accepted", "Left as it is", "the flaw is smaller than what more work would risk"),
    Entry("given-up", "Given up", "the stone or the facet was given up"),
    Entry("polished", "Polished well", "it came out well without any trouble"),
)
SEEN = "What do you see or feel on the facet?"
Take = Callable[[str | None], None]
Then = Callable[[], None]


class Questions:
    """Lists and blanks laid over a screen of ``app``. ``take`` is given the case as it is stated by the answer."""

    def __init__(self, app: App[Any], controller: Callable[[], Controller], take: Callable[[Case], object]) -> None:
        self._app, self._at, self._take = app, controller, take

    @property
    def _case(self) -> Case:
        return self._at().case

    @property
    def _knowledge(self) -> Knowledge:
        return self._at().workspace.knowledge

    def _label(self, item: str | None) -> str:
        return name_of(self._knowledge, item)

    def _put(self, key: str, value: str | None) -> None:
        self._take(with_fact(self._case, key, value))

    # --- what is on the machine ------------------------------------------------------------------------------

    def machine(self, mark: str | None = None) -> None:
        """List what is on the machine and change the line chosen; ``mark``: where the mark begins."""
        case = self._case
        also = {"compound": "compound on the lap", "prior": "step before"}
        entries = []
        for key in (*MACHINE, "prior"):
            now = stated(case, key)
            about = value_name(self._knowledge, key, now) if now else self._label(None)
            entries.append(Entry(key, told_name(key), about, words=also.get(key, "")))

        def chosen(key: str) -> None:
            self.of_machine(key, then=partial(self._rest_of_the_machine, key))

        choose(self._app, "On the machine: esc when all is right", entries, chosen, start=mark)

    def _rest_of_the_machine(self, last: str) -> None:
        """Back to the list until it is left: at what is not stated yet, else where it was."""
        open_ = (key for key in ("material", "lap", "compound", "prior") if stated(self._case, key) is None)
        self.machine(next(open_, last))

    def of_machine(self, key: str, *, then: Then | None = None) -> None:
        """One thing of the machine; ``then`` follows once it is chosen."""

        def take(value: str | None) -> None:
            if value is not None and value.startswith("own:"):
                self._take(self._at().with_own_lap(value.removeprefix("own:")))
            else:
                self._put(key, value)
            if then is not None:
                then()

        if key == "lap":
            own = []
            for lap in sorted(self._at().own_laps, key=lambda lap: not lap.yours):
                whose = "Your own" if lap.yours else "Others' laps"
                own.append(Entry(f"own:{lap.id}", lap.name, small(self._label(lap.type)), whose))
            kinds = [entry_of(lap, "All types") for lap in self._knowledge.laps.values()]
            here = f"own:{self._case.own_lap}" if self._case.own_lap else self._case.lap
            choose_or_leave_open(self._app, question(key), [*own, *kinds], take, start=here)
        else:
            self._choose(question(key), value_entries(self._knowledge, key), key, take)

    def _choose(self, title: str, entries: list[Entry], key: str, take: Take) -> None:
        """Choose the value of ``key``; what would follow from it is ranked ahead."""

        def guess(ids: tuple[str, ...]) -> None:
            self._work_ahead(with_fact(self._case, key, ids[0] if ids else None))

        about = "then it is taken as the polish" if key == "stage" else "leaves it open"
        now = stated(self._case, key)
        choose_or_leave_open(self._app, title, entries, take, none_about=about, start=now, guess=guess)

    def _work_ahead(self, case: Case) -> None:
        """Rank what the case would be, so that the answer is there when it is stated."""
        if not ended(self._case):
            self._at().workspace.work_ahead(merged(self._case, case, self._case))

    # --- what is seen and known ------------------------------------------------------------------------------

    def seen(self) -> None:
        """What is seen or felt."""
        choose_several(
            self._app,
            SEEN,
            symptom_entries(self._knowledge, self._at().seen_lately),
            lambda ids: self._take(replace(self._case, symptoms=ids)),
            many=True,
            none=DO_NOT_KNOW,
            none_about="leaves it open: o tells it in your own words, l takes a look",
            chosen=() if ended(self._case) else self._case.symptoms,
            guess=lambda ids: self._work_ahead(replace(self._case, symptoms=ids)),
            apart=mistaken(self._knowledge.symptoms),
        )

    def fact(self, title: str, take: Callable[[str, str | None], None] | None = None) -> None:
        """Any one thing; what would help most stands first. ``take`` is given key and value in place of the case."""
        helps = {u.key: u for u in self._at().helps}
        if take is not None:  # a facet map is not supposed: it is marked
            helps.pop("map", None)
        machine = ("material", "lap", "compound")
        entries = []
        for key in dict.fromkeys((*(machine if take is not None else ()), *helps, *CONDITIONS, *machine)):
            now = stated(self._case, key)
            about = f"now: {value_name(self._knowledge, key, now)}" if now else ""
            if key in helps:
                about = about or saves(helps[key].value_minutes)
            group = "Would help most" if key in helps else "Anything else"
            if take is not None and key in machine:
                group = "On the machine"
            if key == "map":
                entries.append(Entry(key, question(key), f"{about}: mark it", group))
                continue
            words = " ".join(entry.label + " " + entry.words for entry in self._values_in_words(key))
            entries.append(Entry(key, question(key), about, group if helps or take is not None else "", words))
        put = take or self._put

        def chosen(key: str) -> None:
            if key == "map":
                cast("Program", self._app).action_area("correction")
            else:
                self.value(key, partial(put, key))

        choose(self._app, title, entries, chosen, whole=True)

    def _values_in_words(self, key: str) -> list[Entry]:
        """The values by which the question for a fact is found: who types "dry" is led to how wet the lap is."""
        return value_entries(self._knowledge, key) if SLOTS[key].closed else []

    def any_value(self, key: str, take: Take) -> None:
        """The value of a condition, of what is on the machine, or one of all that can be seen or felt."""
        if key == "symptoms":
            choose_or_leave_open(self._app, SEEN, symptom_entries(self._knowledge), take)
        else:
            self.value(key, take)

    def value(self, key: str, take: Take) -> None:
        """The value of one condition."""
        slot, typed = SLOTS[key], SLOTS[key].typed
        if typed and not slot.values:
            self._number(key, typed, take)
            return
        entries = value_entries(self._knowledge, key)
        if typed:
            entries.append(Entry("type:", "A number …", typed.form))

        def taken(value: str | None) -> None:
            if typed and value == "type:":
                self._number(key, typed, take)
            else:
                take(value)

        self._choose(question(key), entries, key, taken)

    def _number(self, key: str, typed: Measure, take: Take) -> None:
        from lapwise.engine.facts import check_case  # start-up time
        from lapwise.tui.screens.ask import Blank  # start-up time

        def read(blanks: Mapping[str, str]) -> str | None:
            value = blanks["value"] or None
            try:
                check_case(with_fact(Case(), key, value), self._knowledge)
            except LapwiseError:
                raise BadInput(f"{typed.form} is required") from None
            return value

        blank = Blank("value", capital(key_name(key)), stated(self._case, key) or "", typed.form)
        fill_in(self._app, question(key), [blank], read, take)

    # --- what is not offered ---------------------------------------------------------------------------------

    def rest(self, take: Callable[[str], None]) -> None:
        """Every remedy that is not listed, with the reason why; ``take`` is given the one chosen."""
        from lapwise.engine.diagnosis.why_not import why_not  # start-up time

        answer, remedies = self._at().answer, self._knowledge.remedies
        if answer is None:
            return
        names = [*(s.remedy for s in answer.rest), *(e.remedy for e in answer.left_out)]
        entries = [entry_of(remedies[name], about=why_not(name, answer) or "") for name in names]
        choose(self._app, "Not offered, and why", entries, take, whole=True)

    # --- looks -----------------------------------------------------------------------------------------------

    def look(self, take: Callable[[Look], None]) -> None:
        """Which look; the most telling stands first."""
        answer, looks = self._at().answer, self._knowledge.looks
        values = {v.id: v for v in (answer.looks if answer else ())}
        best = answer.look.id if answer and answer.look else None
        entries = []
        for name in sorted(looks, key=lambda k: (k != best, -(values[k].value_minutes if k in values else -1.0))):
            look = looks[name]
            about = minutes(look.minutes)
            done = next((r for k, r in self._case.saw if k == name), None)
            if done is not None:
                about = f"done: {small(look.result_labels.get(done, done))}"
            entries.append(entry_of(look, about=about))
        choose(self._app, "Which look?", entries, lambda name: take(looks[name]))

    def result(self, look: Look, take: Callable[[str], None]) -> None:
        """What a look showed."""
        title, about = f"{look.label}: what did it show?", "nothing is logged"
        choose(self._app, title, result_entries(look), take, none=DO_NOT_KNOW, none_about=about)
