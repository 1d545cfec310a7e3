"""A diagnosis session: the rule engine kept warm, and what is worked out of a case kept while nothing changes."""

from __future__ import annotations

import contextlib
import math
from collections import OrderedDict
from collections.abc import Callable, Hashable, Mapping
from dataclasses import replace
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING

from lapwise.engine.belief import Belief, look_table, looked, posterior, priors, tried
from lapwise.engine.case import STOP_SYMPTOM, Case
from lapwise.engine.conclusions import Conclusions, Fact
from lapwise.engine.diagnosis import views
from lapwise.engine.diagnosis.begins import Beginning, beginnings, believed_of, in_front, moves_of
from lapwise.engine.diagnosis.calculators import calculated
from lapwise.engine.diagnosis.habits import Habits
from lapwise.engine.diagnosis.hunches import hunches_on
from lapwise.engine.diagnosis.listing import Chances, held, open_looks
from lapwise.engine.diagnosis.model import Diagnosis, LeftOut, UnknownView
from lapwise.engine.diagnosis.options import Option, Targets, fix_chances, options
from lapwise.engine.diagnosis.prepared import Prepared
from lapwise.engine.diagnosis.unknowns import unknowns
from lapwise.engine.errors import NothingFound
from lapwise.engine.facts import check_case, facts_of
from lapwise.engine.inference import PlainRules, RuleEngine
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.machine import MachineProfile
from lapwise.engine.strategy import (
    DecisionProblem,
    LastResort,
    Look,
    LookValue,
    Plan,
    Remedy,
    ended,
    led,
    listed,
    quick,
)

if TYPE_CHECKING:
    from lapwise.engine.learning import Learned
    from lapwise.engine.learning.tryout import Tryout
    from lapwise.engine.record.store import Record

LAST_RESORT = LastResort("start-again", 240.0)
"""Where nothing helps any more: another stone, cut from the start. Half a working day, judgement."""
CACHED = 64


class Session:
    """Answers cases with one knowledge base. Not for two threads at once on the same object.

    ``record``: the person's record, or None. ``profile``: the machine profile, or None. ``engine``: what runs the
    rules; the plain ones for rules that are only tried out, since the rule engine is never freed.
    """

    def __init__(
        self,
        knowledge: Knowledge,
        *,
        record: Record | None = None,
        profile: MachineProfile | None = None,
        engine: RuleEngine | PlainRules | None = None,
    ) -> None:
        self.knowledge = knowledge
        self.record = record
        self.profile = profile
        self._engine = engine or RuleEngine(knowledge)
        self._prepared: OrderedDict[Hashable, Prepared] = OrderedDict()
        self._where_to: tuple[dict[str, frozenset[str]], Targets] | None = None
        self._habits = Habits(knowledge.habits.values())
        self._hunches = Habits(knowledge.hunches.values())
        self._look_table = lru_cache(CACHED * len(knowledge.looks))(
            lambda look, causes: look_table(knowledge.looks[look], causes, knowledge)
        )

    @cached_property
    def _plain(self) -> PlainRules:
        return PlainRules(self.knowledge)

    def _state(self) -> Hashable:
        """What an answer rests on beside the case: the record as it is now, and the machine."""
        return (self.record.state() if self.record else None, self.profile)

    def _targets(self) -> Targets:
        own: dict[str, frozenset[str]] = {}
        for lap in self.record.remember("own laps", self.record.laps) if self.record else ():
            before = own.get(lap.type, frozenset(lap.carries))
            own[lap.type] = before | set(lap.carries) if before and lap.carries else frozenset()
        if self._where_to is None or self._where_to[0] != own:
            self._where_to = own, Targets(self.knowledge, own)
        return self._where_to[1]

    def prepare(self, case: Case) -> Prepared:
        """Facts, conclusions, belief, options and the ordering problem of a case. Raises ``BadInput``."""
        state = self._state()
        key = (repr(case.as_json()), state)
        kept = self._prepared.get(key)
        if kept is not None:
            self._prepared.move_to_end(key)
            return kept
        prepared = self._prepare(check_case(case, self.knowledge), self._engine)
        if self._state() == state:  # else the record was written to meanwhile: not to be kept
            self._prepared[key] = prepared
            while len(self._prepared) > CACHED:
                self._prepared.popitem(last=False)
        return prepared

    def _prepare(self, case: Case, rules: RuleEngine | PlainRules) -> Prepared:
        knowledge = self.knowledge
        result = calculated(case, knowledge, self.profile)
        facts = facts_of(case, knowledge, {**self._recorded_facts(case), **result.facts})
        conclusions = rules.run(facts)
        learned = self._learned(case)
        belief, standing, excluded = self._believed(case, facts, conclusions, learned)
        problem = self._problem(case, belief, standing, frozenset(pointer.id for pointer in conclusions.looks))
        by_belief = quick(problem)
        moves = believed_of(case, problem, by_belief, conclusions, knowledge)
        own_order = moves_of((s.remedy for s in by_belief.order), by_belief.look)
        evidence = learned.evidence if learned else 0.0
        begins = beginnings(moves, facts, self._habits, knowledge.scales, own_order, evidence)
        by_id = {o.remedy.id: o for o in standing}
        plan, part_of = self._led(problem, by_belief, begins, conclusions, by_id, belief.p)
        return Prepared(
            case=case,
            facts=facts,
            conclusions=conclusions,
            belief=belief,
            options=standing,
            excluded=excluded,
            calculated=result,
            problem=problem,
            by_belief=by_belief,
            begins=begins,
            plan=plan,
            part_of=part_of,
            learned=learned,
        )

    def _believed(
        self, case: Case, facts: tuple[Fact, ...], conclusions: Conclusions, learned: Learned | None
    ) -> tuple[Belief, tuple[Option, ...], tuple[LeftOut, ...]]:
        """What is believed of the causes, and the remedies that stand and those that do not."""
        knowledge, targets = self.knowledge, self._targets()
        chance: Callable[[str, str], float | None] | None = learned.fix if learned else None
        prior = priors(knowledge, conclusions, learned.cause_factors() if learned else None)
        done = []
        for name, outcome in case.tried:
            remedy = knowledge.remedies[name]
            fix = fix_chances(remedy, case, targets.best(remedy, case), knowledge, conclusions, chance)
            done.append(tried(name, outcome, fix, knowledge))
        done += [looked(knowledge.looks[look], result, tuple(prior), knowledge) for look, result in case.saw]
        suspected = hunches_on(facts, self._hunches, knowledge)
        belief = posterior(prior, (*conclusions.evidence, *suspected), done)
        return belief, *options(case, knowledge, conclusions, targets=targets, learned=chance)

    def _problem(
        self, case: Case, belief: Belief, standing: tuple[Option, ...], asked: frozenset[str]
    ) -> DecisionProblem:
        """What the search is given. ``asked``: looks that some rule finds to make sense here; without any, all do."""
        knowledge = self.knowledge
        causes = tuple(belief.p)
        chance = knowledge.scales.chance
        remedies = tuple(
            Remedy(
                id=o.remedy.id,
                minutes=o.remedy.minutes,
                group=o.remedy.setup_group,
                setup_minutes=o.remedy.setup_minutes,
                fix=tuple(o.fix.get(c, 0.0) for c in causes),
                worse=chance[o.remedy.worse_chance] if o.remedy.worse_minutes else 0.0,
                worse_minutes=o.remedy.worse_minutes,
            )
            for o in standing
            if any(o.fix.values())
        )
        looks = tuple(
            Look(
                id=look.id,
                minutes=look.minutes + knowledge.scales.look_minutes,
                likelihood=self._look_table(look.id, causes),
            )
            for look in open_looks(case, knowledge)
            if look.id in asked or not asked
        )
        return DecisionProblem(causes, tuple(belief.p.values()), remedies, looks, LAST_RESORT)

    def _led(
        self,
        problem: DecisionProblem,
        plan: Plan,
        begins: tuple[Beginning, ...],
        conclusions: Conclusions,
        options: Mapping[str, Option],
        p: Mapping[str, float],
    ) -> tuple[Plan, dict[str, str]]:
        """The plan with what cutters begin with in front: what a rule of the person's own puts first, then the
        likeliest beginnings. A look that a rule puts first is taken before anything heavy.

        The list ends where a remedy saves less than a look would have to; fillers, and those that an earlier one does
        too, stand behind it. ``p``: P(cause). Returned with the plan: the latter, each to the earlier one.
        """
        knowledge, least = self.knowledge, self.knowledge.scales.look_minutes
        now = {name: math.fsum(p.get(c, 0.0) * f for c, f in o.fix.items()) for name, o in options.items()}
        chances = Chances(now, {b.move: b.share for b in begins}, begins[0].move)
        by_own = {s.id for s in conclusions.first if knowledge.rules[s.said.rule].place.own}
        own = [r.id for r in problem.remedies if r.id in by_own]
        worth = {v.id for v in plan.looks if v.value_minutes >= least} & conclusions.told_first
        front = in_front(own, begins, worth, options, chances, knowledge)
        look = next((move for move in front if move in knowledge.looks), None)
        order = [move for move in front if move in knowledge.remedies]
        if look is not None:
            saves = next((v.value_minutes for v in plan.looks if v.id == look), 0.0)
            plan = replace(
                plan, look=LookValue(look, knowledge.looks[look].minutes + least, saves, front.index(look) + 1)
            )
        elif plan.look is not None:
            plan = replace(plan, look=replace(plan.look, before=plan.look.before + len(order)))
        plan = led(problem, plan, order)
        saving = [step.remedy for step in ended(problem, plan, least, order).before(LAST_RESORT)]
        names, part_of = held(saving, by_own, order, options, p, chances, knowledge)
        return listed(problem, plan, names), part_of

    def _recorded_facts(self, case: Case) -> dict[str, str | float]:
        facts: dict[str, str | float] = {}
        if self.record is None:
            return facts
        material = self.knowledge.materials.get(case.material or "")
        if material and case.lap and case.compound:
            from lapwise.engine.learning import members  # start-up time

            groups = [members(self.knowledge, name) for name in material.line]
            said = self.record.pair_result(groups, case.lap, case.compound)
            if said is not None:
                facts["recorded_pair"] = said
        if case.own_lap:
            with contextlib.suppress(NothingFound):  # a case from another bench may name a lap that is not here
                facts["own_lap_state"] = self.record.lap_state(case.own_lap, self.knowledge)
        return facts

    def _learned(self, case: Case) -> Learned | None:
        if self.record is None and not self.knowledge.experience:
            return None
        from lapwise.engine.learning import learned_of  # start-up time

        return learned_of(self.record, self.knowledge, case)

    def something_new(self, case: Case) -> Tryout | None:
        """A remedy to try for once so that the record learns of it; None without a record or where nothing helps.

        Drawn anew with each logged step; the advice itself never draws.
        """
        from lapwise.engine.learning.tryout import something_new  # start-up time

        prepared = self.prepare(case)
        if self.record is None or prepared.learned is None or STOP_SYMPTOM in prepared.case.symptoms:
            return None
        minutes = {o.remedy.id: o.remedy.minutes for o in prepared.options}
        return something_new(prepared.learned, prepared.belief.p, minutes, seed=self.record.counts()["steps"])

    def quick(self, case: Case) -> Diagnosis:
        """The answer without what would help to know."""
        prepared = self.prepare(case)
        return views.assemble(prepared, self.knowledge)

    def what_if(self, case: Case) -> Diagnosis:
        """The quick answer to a case that is only supposed; the rule engine stays on the case at hand."""
        prepared = self._prepare(check_case(case, self.knowledge), self._plain)
        return views.assemble(prepared, self.knowledge)

    def answer(self, case: Case) -> Diagnosis:
        """The answer with what would help to know."""
        return replace(self.quick(case), unknown_that_would_help=self.unknowns(case))

    def unknowns(self, case: Case) -> tuple[UnknownView, ...]:
        """The facts not known yet that would help most (about ten times the work of a quick answer)."""
        prepared = self.prepare(case)
        if STOP_SYMPTOM in prepared.case.symptoms:
            return ()
        return unknowns(prepared, self._plain)
