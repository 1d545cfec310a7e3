"""The quick order and its oracle against an independent brute force over every policy, and the laws they must obey."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.strategy_oracle.optimum import exact, greedy

from lapwise.engine.strategy import DecisionProblem, LastResort, Look, Remedy, quick


def brute_force(problem: DecisionProblem) -> float:
    """Least expected minutes over all policies, by plain recursion on normalised beliefs and histories."""
    assert problem.last_resort is not None
    ends = [problem.last_resort.minutes] * len(problem.causes)

    def value(p: list[float], remedies: frozenset[int], looks: frozenset[int], paid: frozenset[str]) -> float:
        out = sum(x * e for x, e in zip(p, ends, strict=True))
        for r in remedies:
            remedy = problem.remedies[r]
            due = remedy.setup_minutes if remedy.group is not None and remedy.group not in paid else 0.0
            due += remedy.setup_minutes if remedy.group is None else 0.0
            cost = remedy.minutes + due + remedy.worse * remedy.worse_minutes
            left = [x * (1 - f) for x, f in zip(p, remedy.fix, strict=True)]
            share = sum(left)
            now_paid = paid if remedy.group is None else paid | {remedy.group}
            if share > 1e-14:
                cost += share * value([x / share for x in left], remedies - {r}, looks, now_paid)
            out = min(out, cost)
        for k in looks:
            cost = problem.looks[k].minutes
            for row in problem.looks[k].likelihood:
                seen = [x * y for x, y in zip(p, row, strict=True)]
                share = sum(seen)
                if share > 1e-14:
                    cost += share * value([x / share for x in seen], remedies, looks - {k}, paid)
            out = min(out, cost)
        return out

    total = sum(problem.p)
    return value(
        [x / total for x in problem.p],
        frozenset(range(len(problem.remedies))),
        frozenset(range(len(problem.looks))),
        problem.paid_groups,
    )


@st.composite
def problems(draw: st.DrawFn, most_remedies: int = 3, most_looks: int = 2) -> DecisionProblem:
    n = draw(st.integers(1, 4))
    chance = st.sampled_from([0.0, 0.02, 0.1, 0.3, 0.5, 0.7, 0.9, 0.98, 1.0])
    whole = st.integers(1, 20)
    p = draw(st.lists(st.integers(0, 9), min_size=n, max_size=n).filter(any))
    remedies = tuple(
        Remedy(
            f"r{i}",
            float(draw(whole)),
            draw(st.sampled_from([None, "wash", "lap"])),
            float(draw(st.integers(0, 8))),
            tuple(draw(st.lists(chance, min_size=n, max_size=n))),
            draw(st.sampled_from([0.0, 0.1])),
            20.0,
        )
        for i in range(draw(st.integers(0, most_remedies)))
    )
    looks = []
    for k in range(draw(st.integers(0, most_looks))):
        results = draw(st.integers(2, 3))
        columns = [draw(st.lists(st.integers(0, 5), min_size=results, max_size=results).filter(any)) for _ in range(n)]
        rows = tuple(tuple(column[r] / sum(column) for column in columns) for r in range(results))
        looks.append(Look(f"k{k}", float(draw(st.integers(0, 6))), rows))
    last = LastResort("end", float(draw(st.integers(1, 90))))
    paid = frozenset(draw(st.sets(st.sampled_from(["wash", "lap"]))))
    return DecisionProblem(tuple(f"c{i}" for i in range(n)), tuple(map(float, p)), remedies, tuple(looks), last, paid)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(problems())
def test_exact_is_the_least_over_all_policies(problem: DecisionProblem) -> None:
    plan = exact(problem)
    assert plan.expected_minutes == pytest.approx(brute_force(problem), rel=1e-9)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(problems(6, 3))
def test_exact_quick_greedy_in_order(problem: DecisionProblem) -> None:
    least, at_once, plain = exact(problem), quick(problem), greedy(problem)
    assert least.expected_minutes <= at_once.expected_minutes + 1e-9
    assert at_once.expected_minutes <= plain.expected_minutes + 1e-9
    if not problem.looks and not any(r.setup_minutes for r in problem.remedies):
        # Lin 2014: greedy with updating costs at most four times the optimum (independent costs, no questions)
        assert plain.expected_minutes <= 4 * least.expected_minutes + 1e-9


@settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(problems(5, 2))
def test_the_order_says_what_it_costs(problem: DecisionProblem) -> None:
    """Without looks the expected minutes are those of the steps; chances multiply up to the cumulative ones."""
    bare = replace(problem, looks=())
    by_id = {r.id: r for r in problem.remedies}
    assert problem.last_resort is not None
    ends = [problem.last_resort.minutes] * len(problem.causes)
    for plan in (exact(bare), quick(bare), greedy(bare)):
        left = [x / sum(problem.p) for x in problem.p]
        total, unfixed = 0.0, 1.0
        for step in plan.order:
            unfixed *= 1 - step.chance
            assert step.cumulative == pytest.approx(1 - unfixed, abs=1e-9)
            if step.remedy == "end":
                total += sum(x * e for x, e in zip(left, ends, strict=True))
                break
            remedy = by_id[step.remedy]
            total += sum(left) * (step.minutes + remedy.worse * remedy.worse_minutes)
            left = [x * (1 - f) for x, f in zip(left, remedy.fix, strict=True)]
        assert plan.expected_minutes == pytest.approx(total, rel=1e-9)
        names = [step.remedy for step in plan.order]
        assert len(set(names)) == len(names)
        possible = {r.id for r in problem.remedies if sum(x * f for x, f in zip(problem.p, r.fix, strict=True)) > 0}
        assert set(names) == possible | {"end"}


def simple(n: int = 12, looks: tuple[Look, ...] = ()) -> DecisionProblem:
    remedies = tuple(
        Remedy(
            f"r{i}",
            5.0 + i,
            "lap" if i % 2 else None,
            3.0 if i % 2 else 0.0,
            tuple(0.9 if j == i else 0.1 if j == (i + 1) % n else 0.0 for j in range(n)),
        )
        for i in range(n)
    )
    p = tuple(1.0 / (i + 1) for i in range(n))
    return DecisionProblem(tuple(f"c{i}" for i in range(n)), p, remedies, looks, LastResort("end", 90.0))


def split(name: str, n: int, cut: int, minutes: float = 2.0) -> Look:
    low = tuple(0.9 if j < cut else 0.1 for j in range(n))
    return Look(name, minutes, (low, tuple(1 - x for x in low)))


def test_a_look_that_pays_is_named_with_its_place_and_value() -> None:
    problem = simple(6, (split("half", 6, 3, 1.0), split("dear", 6, 3, 60.0)))
    for plan in (exact(problem), quick(problem)):
        assert plan.look is not None
        assert plan.look.id == "half"
        assert plan.look.value_minutes > 0
        values = {look.id: look.value_minutes for look in plan.looks}
        assert values["dear"] == 0
        assert values["half"] == plan.look.value_minutes
    with_it, without = exact(problem), exact(replace(problem, looks=()))
    assert with_it.look is not None
    saved = without.expected_minutes - with_it.expected_minutes
    assert with_it.look.value_minutes == pytest.approx(saved, abs=1e-9)


def test_a_free_look_that_tells_nothing_is_worth_nothing() -> None:
    plan = exact(simple(4, (Look("blind", 0.0, ((0.5,) * 4, (0.5,) * 4)),)))
    assert plan.look is None
    assert plan.looks[0].value_minutes == 0


def test_shared_set_up_is_paid_once() -> None:
    pair = tuple(Remedy(f"r{i}", 4.0, "lap", 6.0, (0.5,)) for i in range(2))
    problem = DecisionProblem(("c",), (1.0,), pair, (), LastResort("end", 100.0))
    plan = exact(problem)
    assert [step.minutes for step in plan.order[:2]] == [10.0, 4.0]
    assert plan.expected_minutes == pytest.approx(10 + 0.5 * 4 + 0.25 * 100)
    paid = exact(replace(problem, paid_groups=frozenset({"lap"})))
    assert paid.expected_minutes == pytest.approx(4 + 0.5 * 4 + 0.25 * 100)


def test_last_resort_comes_before_remedies_that_do_not_earn_their_minutes() -> None:
    hopeless = Remedy("hopeless", 30.0, None, 0.0, (0.1,))
    good = Remedy("good", 2.0, None, 0.0, (0.5,))
    for plan in (
        f(DecisionProblem(("c",), (1.0,), (hopeless, good), (), LastResort("end", 60.0))) for f in (exact, quick)
    ):
        assert [step.remedy for step in plan.order] == ["good", "end", "hopeless"]
        assert [step.cumulative for step in plan.order] == pytest.approx([0.5, 1.0, 1.0])
        assert plan.order[2].chance == pytest.approx(0.1)


def test_runner_up_is_the_best_order_with_another_first_remedy() -> None:
    plan = exact(simple(5))
    assert plan.runner_up is not None
    forced = []
    for first in simple(5).remedies:
        if first.id == plan.order[0].remedy:
            continue
        p = [x * (1 - f) for x, f in zip(simple(5).p, first.fix, strict=True)]
        share = sum(p) / sum(simple(5).p)
        paid = frozenset({first.group}) if first.group else frozenset()
        rest = exact(
            replace(
                simple(5),
                p=tuple(p),
                remedies=tuple(r for r in simple(5).remedies if r.id != first.id),
                paid_groups=paid,
            )
        )
        forced.append((first.minutes + first.setup_minutes + share * rest.expected_minutes, first.id))
    minutes, remedy = min(forced)
    assert plan.runner_up.remedy == remedy
    assert plan.runner_up.extra_minutes == pytest.approx(minutes - plan.expected_minutes, abs=1e-9)


def test_what_does_not_fit_is_refused_and_what_cannot_count_does_not_stand_in_the_way() -> None:
    useless = tuple(Remedy(f"useless{i}", 1.0, None, 0.0, (0.0,) * 6) for i in range(20))
    blind = tuple(Look(f"blind{k}", 1.0, ((0.5,) * 6, (0.5,) * 6)) for k in range(20))
    base = simple(6, (split("half", 6, 3),))
    padded = replace(base, remedies=(*base.remedies, *useless), looks=(*base.looks, *blind))
    assert exact(padded).expected_minutes == pytest.approx(exact(base).expected_minutes)
    with pytest.raises(ValueError, match="than the programme holds"):
        exact(simple(40))


def test_same_input_same_plan_whatever_the_scale_of_p() -> None:
    problem = simple(8, (split("half", 8, 4),))
    scaled = replace(problem, p=tuple(1000 * x for x in problem.p))
    for f in (exact, quick):
        assert f(problem) == f(problem)
        one, other = f(problem), f(scaled)
        assert [s.remedy for s in one.order] == [s.remedy for s in other.order]
        assert one.expected_minutes == pytest.approx(other.expected_minutes)


@pytest.mark.parametrize(
    "change",
    [
        {"p": (0.0, 0.0)},
        {"p": (1.0,)},
        {"p": (1.0, -0.1)},
        {"remedies": (Remedy("r", 1.0, None, 0.0, (0.5,)),)},
        {"remedies": (Remedy("r", 0.0, None, 0.0, (0.5, 0.5)),)},
        {"remedies": (Remedy("r", 1.0, None, 0.0, (0.5, 1.5)),)},
        {"looks": (Look("k", 1.0, ((0.5, 0.5), (0.2, 0.5))),)},
        {"last_resort": LastResort("end", 0.0)},
    ],
)
def test_numbers_that_do_not_fit_are_refused(change: dict[str, object]) -> None:
    good = DecisionProblem(("a", "b"), (0.5, 0.5), (Remedy("r", 1.0, None, 0.0, (0.5, 0.5)),))
    with pytest.raises(ValueError, match=r"wanted|required|sum to 1"):
        replace(good, **change)  # type: ignore[arg-type]
