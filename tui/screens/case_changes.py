"""What changes a case: what is seen, what else is known, looks, what-if, undo, time and note, a new case."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Any

from lapwise.engine.case import STAGES, Case
from lapwise.engine.errors import LapwiseError
from lapwise.engine.slots import CONDITIONS, SLOTS
from lapwise.engine.wording import small
from lapwise.tui.open_case import OpenCase, ended, fresh, restated, stated, with_fact
from lapwise.tui.present import case as case_view
from lapwise.tui.present.words import capital, minutes, plain_id, saves
from lapwise.tui.present.words import taken as logged_minutes
from lapwise.tui.screens.base import AreaScreen
from lapwise.tui.screens.entry import Entry
from lapwise.tui.widgets.bar import Item
from lapwise.tui.work import start

if TYPE_CHECKING:
    from lapwise.engine.diagnosis.model import Diagnosis, UnknownView
    from lapwise.tui.screens.chooser import Chooser

ENDS = (
    Entry("accepted", "Left as it is", "the flaw is smaller than what more work would risk"),
    Entry("given-up", "Given up", "the stone or the facet was given up"),
    Entry("polished", "Polished well", "it came out well without any trouble"),
)
TYPED = {
    "speed": "a number of rpm",
    "facet_size": "across x tip to dop in mm, as 9x6",
    "cleavage_angle": "degrees, 0 to 90",
}
"""Conditions that may be a number as well as a word."""
Take = Callable[[str | None], None]


class CaseChanges(AreaScreen):
    """The part of the case screen that changes the case; :class:`~lapwise.tui.screens.case.CaseScreen` shows it."""

    answer: Diagnosis | None
    helps: tuple[UnknownView, ...]

    @property
    def open_case(self) -> OpenCase:
        """The case at hand."""
        return self.lapwise.open_case

    def show_fields(self) -> None:
        """Show what the case states."""

    def rank(self) -> None:
        """Ask for the ranking."""

    def time_try(self, remedy: str | None, seconds: float = 0.0) -> None:
        """Start the clock on a remedy or stop it."""

    # --- changing the case -----------------------------------------------------------------------------------

    def change(self, case: Case) -> None:
        """Take the case as it now stands: show it, rank it, and put it on disk."""
        open_case = self.open_case
        if ended(open_case.case):
            if case == open_case.case:
                return
            open_case, case = OpenCase(case), _begun(case, open_case.case)
            self.say("A new case with the same machine. The one before stays closed.")
        case = restated(case)
        self.lapwise.set_desk(replace(open_case, case=case))
        self.show_fields()
        self.rank()
        start(self, self._keep, group="keep")

    async def _keep(self) -> None:
        await self.painted()
        await self.lapwise.keep()

    def put(self, key: str, value: str | None) -> None:
        """State one thing."""
        self.change(with_fact(self.open_case.case, key, value))

    # --- what is on the machine ------------------------------------------------------------------------------

    def do_machine(self, mark: str | None = None) -> None:
        """List what is on the machine and change the line chosen; ``mark``: where the mark begins."""
        case, knowledge = self.open_case.case, self.workspace.knowledge
        entries = [
            Entry(key, label, value)
            for key, label, value in (
                ("material", "Stone", case_view.name_of(knowledge, case.material)),
                ("lap", "Lap", case_view.name_of(knowledge, case.lap)),
                ("compound", "Compound on it", case_view.name_of(knowledge, case.compound)),
                ("stage", "Stage", case_view.STAGE_WORDS.get(case.stage, case.stage)),
                ("prior", "Step before", case_view.name_of(knowledge, case.prior)),
            )
        ]

        def chosen(ids: tuple[str, ...] | None) -> None:
            if ids:
                self.ask_for(ids[0], after=self._rest_of_the_machine)

        self.app.push_screen(_chooser("On the machine", entries, start=mark), chosen)

    def _rest_of_the_machine(self) -> None:
        """Come back to the list while stone, lap or compound is not stated yet; else it is done."""
        case = self.open_case.case
        open_ = [key for key in ("material", "lap", "compound") if stated(case, key) is None]
        if open_:
            self.do_machine(open_[0])

    def ask_for(self, key: str, *, after: Callable[[], None] | None = None) -> None:
        """Let the person choose one thing of the machine; ``after`` follows once it is chosen."""
        knowledge = self.workspace.knowledge
        if key == "material":
            self.choose("Which stone?", self.lapwise.material_entries(), key, after=after)
        elif key == "lap":
            self._ask_lap(after)
        elif key in ("compound", "prior"):
            title = "Which compound is on the lap?" if key == "compound" else "What was the step before?"
            entries = [Entry(c.id, c.label, c.about) for c in knowledge.compounds.values()]
            self.choose(title, entries, key, after=after)
        else:
            entries = [Entry(s, capital(case_view.STAGE_WORDS[s])) for s in STAGES]
            self.choose("How far is the facet?", entries, key, none="", after=after)

    def _ask_lap(self, after: Callable[[], None] | None) -> None:
        own = [
            Entry(f"own:{lap.id}", lap.name, small(case_view.name_of(self.workspace.knowledge, lap.type)), "Your own")
            for lap in self.lapwise.own_laps
        ]
        kinds = [Entry(lap.id, lap.label, lap.about, "All types") for lap in self.workspace.knowledge.laps.values()]

        def chosen(ids: tuple[str, ...] | None) -> None:
            if ids is None:
                return
            name = ids[0] if ids else None
            if name is not None and name.startswith("own:"):
                self.change(self.lapwise.with_own_lap(self.open_case.case, name.removeprefix("own:")))
            else:
                self.put("lap", name)
            if after is not None:
                after()

        start = f"own:{self.open_case.case.own_lap}" if self.open_case.case.own_lap else self.open_case.case.lap
        self.app.push_screen(_chooser("Which lap?", [*own, *kinds], none="Not known", start=start), chosen)

    def choose(
        self,
        title: str,
        entries: list[Entry],
        key: str,
        *,
        none: str = "Not known",
        then: Take | None = None,
        after: Callable[[], None] | None = None,
    ) -> None:
        """Choose the value of ``key``; ``then`` takes it in place of the case, ``after`` follows."""

        def chosen(ids: tuple[str, ...] | None) -> None:
            if ids is None:
                return
            value = ids[0] if ids else None
            if then is not None:
                then(value)
            else:
                self.put(key, value)
            if after is not None:
                after()

        case = self.open_case.case
        self.app.push_screen(
            _chooser(
                title,
                entries,
                none=none,
                start=stated(case, key),
                guess=lambda ids: self._work_ahead(with_fact(case, key, ids[0])),
            ),
            chosen,
        )

    def _work_ahead(self, case: Case) -> None:
        """Rank what the case would be, so that the answer is there when it is stated."""
        if not ended(self.open_case.case):
            self.workspace.work_ahead(restated(case))

    # --- what is seen and known ------------------------------------------------------------------------------

    def do_seen(self) -> None:
        """Choose what is seen or felt."""
        lately = self.lapwise.seen_lately
        now = () if ended(self.open_case.case) else self.open_case.case.symptoms
        symptoms = self.workspace.knowledge.symptoms
        first = [Entry(s, symptoms[s].label, symptoms[s].about, "Seen lately") for s in lately if s in symptoms]
        rest = [
            Entry(s.id, s.label, s.about, "All that can be seen or felt" if first else "")
            for s in symptoms.values()
            if s.id not in lately
        ]

        def chosen(ids: tuple[str, ...] | None) -> None:
            if ids is not None:
                self.change(replace(self.open_case.case, symptoms=tuple(ids)))

        self.app.push_screen(
            _chooser(
                "What do you see or feel on the facet?",
                [*first, *rest],
                many=True,
                chosen=now,
                guess=lambda ids: self._work_ahead(replace(self.open_case.case, symptoms=ids)),
            ),
            chosen,
        )

    def do_say(self) -> None:
        """State more of what is known; what would help most stands first."""
        self._ask_fact("What else do you know?", self.put)

    def _ask_fact(self, title: str, take: Callable[[str, str | None], None]) -> None:
        case = self.open_case.case
        helps = {u.key: u for u in self.helps}
        keys = [*helps, *(k for k in CONDITIONS if k not in helps)]
        machine = [k for k in ("material", "lap", "compound") if k not in helps]
        entries = []
        for key in [*keys, *machine]:
            now = stated(case, key)
            about = f"now: {case_view.value_name(self.workspace.knowledge, key, now)}" if now else ""
            if key in helps:
                about = about or saves(helps[key].value_minutes)
            group = "Would help most" if key in helps else "Anything else"
            entries.append(Entry(key, _question(key), about, group if helps else ""))

        def chosen(ids: tuple[str, ...] | None) -> None:
            if ids:
                self._ask_value(ids[0], lambda value: take(ids[0], value))

        self.app.push_screen(_chooser(title, entries), chosen)

    def _ask_value(self, key: str, take: Take) -> None:
        knowledge = self.workspace.knowledge
        if key == "material":
            self.choose("Which stone?", self.lapwise.material_entries(), key, then=take)
            return
        if key == "cleavage_angle":
            self._ask_number(key, take)
            return
        slot = SLOTS[key]
        if slot.values and slot.values[0].startswith("@"):
            table = getattr(knowledge, slot.values[0][1:])
            entries = [Entry(item.id, item.label, item.about) for item in table.values()]
        else:
            entries = [Entry(v, capital(plain_id(v))) for v in slot.values]
        if key in TYPED:
            entries.append(Entry("type:", "A number …", TYPED[key]))

        def taken(value: str | None) -> None:
            if value == "type:":
                self._ask_number(key, take)
            else:
                take(value)

        self.choose(_question(key), entries, key, then=taken)

    def _ask_number(self, key: str, take: Take) -> None:
        from lapwise.engine.facts import check_case

        def complaint(typed: dict[str, str]) -> str | None:
            try:
                check_case(with_fact(Case(), key, typed["value"] or None), self.workspace.knowledge)
            except LapwiseError as error:
                return f"{TYPED[key]} is wanted" if error.problems else None
            return None

        def typed(values: dict[str, str] | None) -> None:
            if values is not None:
                take(values["value"] or None)

        from lapwise.tui.screens.ask import Ask, Blank

        blank = Blank("value", capital(case_view.key_name(key)), stated(self.open_case.case, key) or "", TYPED[key])
        self.app.push_screen(Ask(_question(key), [blank], check=complaint), typed)  # type: ignore[arg-type]

    # --- looks and what-if -----------------------------------------------------------------------------------

    def is_closed(self) -> bool:
        """Whether the case is closed; says so."""
        if ended(self.open_case.case):
            self.say("This case is closed. x begins the next one.")
        return ended(self.open_case.case)

    def do_look(self) -> None:
        """Take a look: the most telling stands first; then say what it showed."""
        if self.is_closed():
            return
        answer, knowledge = self.answer, self.workspace.knowledge
        values = {v.id: v for v in (answer.looks if answer else ())}
        best = answer.look.id if answer and answer.look else None
        order = sorted(knowledge.looks, key=lambda k: (k != best, -(values[k].value_minutes if k in values else -1.0)))
        entries = []
        for name in order:
            look = knowledge.looks[name]
            view = values.get(name)
            about = f"{minutes(look.minutes)}" + (f", {saves(view.value_minutes)}" if view else "")
            done = next((r for k, r in self.open_case.case.saw if k == name), None)
            if done is not None:
                about = f"done: {small(look.result_labels.get(done, done))}"
            entries.append(Entry(name, look.label, about))

        def chosen(ids: tuple[str, ...] | None) -> None:
            if ids:
                self._show_look(ids[0])

        self.app.push_screen(_chooser("Which look?", entries), chosen)

    def _show_look(self, name: str) -> None:
        look = self.workspace.knowledge.looks[name]
        from lapwise.tui.screens.sheet import Line, para

        lines: list[Line] = [para(look.about)]
        lines += [para(f"{at}. {text}") for at, text in enumerate(look.steps, 1)]
        if look.needs:
            lines.append(para("Needs: " + ", ".join(look.needs)))
        for caution in look.cautions:
            known = self.workspace.knowledge.cautions.get(caution)
            if known is not None:
                lines.append(para(f"! {known.hazard} {known.action}", style="bold $warning"))
        began = self.lapwise.clock()

        def shown(answer: str | None) -> None:
            if answer != "result":
                return
            entries = [Entry(r, capital(look.result_labels.get(r, r))) for r in look.results]
            self.app.push_screen(_chooser(f"{look.label}: what did it show?", entries), result)

        def result(ids: tuple[str, ...] | None) -> None:
            if ids:
                taken = max(0.1, round((self.lapwise.clock() - began) / 60, 1))
                start(self, partial(self._log_look, name, ids[0], taken), group="log")

        self.read(look.label, lines, [Item("result", "enter", "Say what it showed")], shown)

    async def _log_look(self, look: str, result: str, taken: float) -> None:
        shown_then = self.answer
        try:
            await self.lapwise.write(
                lambda open_case: self.workspace.look(open_case, look, result, taken, "", shown_then)
            )
        except (LapwiseError, OSError) as error:
            self.warn(f"Not logged: {error}")
            return
        label = self.workspace.knowledge.looks[look].label
        shown = self.workspace.knowledge.looks[look].result_labels.get(result, result)
        self.say(f"Logged: {small(label)}: {small(shown)}. u: undo")
        self.show_fields()
        self.rank()

    def do_what_if(self) -> None:
        """Change one thing for a moment and show what would move."""
        if self.is_closed():
            return

        def take(key: str, value: str | None) -> None:
            start(self, partial(self._what_if, key, value), alone=True, group="what-if")

        self._ask_fact("What if … ?", take)

    async def _what_if(self, key: str, value: str | None) -> None:
        if self.answer is None:
            return
        before, case = self.answer, restated(with_fact(self.open_case.case, key, value))
        try:
            after = await self.workspace.do(self.workspace.quick, case)
        except LapwiseError as error:
            self.warn(str(error.problems[0]))
            return
        words = case_view.value_name(self.workspace.knowledge, key, value) if value else "not known"
        title = f"If {case_view.key_name(key)} were: {small(words)}"

        def decided(chosen: str | None) -> None:
            if chosen == "keep":
                self.put(key, value)

        from lapwise.tui.screens.case_sheets import moves

        lines = moves(before, after)
        self.read(title, lines, [Item("keep", "k", "It is so: keep it")], decided)

    # --- undo, time and note, new case -----------------------------------------------------------------------

    def do_undo(self) -> None:
        start(self, self._undo, group="log")

    async def _undo(self) -> None:
        if self.open_case.last is None and not (self.open_case.case.tried or self.open_case.case.saw):
            self.say("There is nothing to take back in this case.")
            return
        step = self.open_case.last
        if step is None or step.kind == "try":
            self.time_try(None)
        try:
            await self.lapwise.write(self.workspace.undo)
        except (LapwiseError, OSError) as error:
            self.warn(f"Not taken back: {error}")
            return
        name = case_view.name_of(self.workspace.knowledge, (step.remedy or step.look) if step else None, "the last log")
        self.say(f"Taken back: {small(name)}. The record keeps both rows.")
        if step is not None and step.kind == "try" and step.remedy and step.minutes:
            self.time_try(step.remedy, step.minutes * 60)  # it goes on where it was when it was logged
        self.show_fields()
        self.rank()

    def do_edit(self) -> None:
        """Correct the minutes of the last log or add a note."""
        last = self.open_case.last
        if last is None:
            self.say("Nothing is logged in this case yet.")
            return
        name = case_view.name_of(self.workspace.knowledge, last.remedy or last.look)
        from lapwise.tui.screens.ask import Ask, Blank

        blanks = [
            Blank("minutes", "Minutes", "" if last.minutes is None else f"{last.minutes:g}", "a number, or empty"),
            Blank("note", "Note", last.note, "anything worth keeping"),
        ]

        def check(values: dict[str, str]) -> str | None:
            return None if _number(values["minutes"]) is not False else "Minutes: a number from 0 to 100000 is wanted"

        def typed(values: dict[str, str] | None) -> None:
            if values is not None:
                taken = _number(values["minutes"])
                assert taken is not False
                start(self, partial(self._amend, taken, values["note"]), group="log")

        self.app.push_screen(Ask(f"Last log: {small(name)}", blanks, check=check), typed)  # type: ignore[arg-type]

    async def _amend(self, taken: float | None, note: str) -> None:
        try:
            await self.lapwise.write(lambda open_case: self.workspace.amend(open_case, taken, note))
        except (LapwiseError, OSError) as error:
            self.warn(f"Not changed: {error}")
            return
        self.say(f"Changed: {logged_minutes(taken)}" + (f", “{note}”" if note else "") + ".")

    def do_new(self) -> None:
        """Close this case and begin another with the same machine."""
        if self.open_case.case_id is None or ended(self.open_case.case):
            start(self, partial(self._end, None), group="log")
            return

        def chosen(ids: tuple[str, ...] | None) -> None:
            if ids:
                start(self, partial(self._end, ids[0]), group="log")

        self.app.push_screen(_chooser("How did this case end?", ENDS), chosen)

    async def _end(self, result: str | None) -> None:
        self.time_try(None)
        if result is None:
            self.lapwise.set_desk(OpenCase(fresh(self.open_case.case)))
        else:
            try:
                await self.lapwise.write(lambda open_case: self.workspace.end(open_case, result), ends=True)
            except (LapwiseError, OSError) as error:
                self.warn(f"Not closed: {error}")
                return
        await self.lapwise.look_back()
        self.say("A new case with the same machine. Press s and say what you see.")
        self.show_fields()
        self.rank()


def _begun(case: Case, before: Case) -> Case:
    """The case that begins where a closed one is changed: the machine, and what was stated anew."""
    symptoms = case.symptoms if case.symptoms != before.symptoms else ()
    facts = {key: value for key, value in case.facts.items() if before.facts.get(key) != value}
    return replace(fresh(case), symptoms=symptoms, facts=facts)


def _chooser(title: str, entries: Sequence[Entry], **options: Any) -> Chooser:
    """A list to choose from; its module is read on first use, so that the first picture does not wait for it."""
    from lapwise.tui.screens.chooser import Chooser

    return Chooser(title, entries, **options)


def _question(key: str) -> str:
    from lapwise.engine.diagnosis.unknowns import question

    return question(key)


def _number(text: str) -> float | bool | None:
    """Minutes typed; None if empty, False if it is no number of minutes."""
    if not text.strip():
        return None
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        return False
    return value if 0 <= value <= 100_000 else False
