"""Order of remedies against published worked examples of decision-theoretic troubleshooting.

"Read": the paper was read; the values are recomputed from its printed inputs.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise, permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.strategy_oracle.optimum import exact, greedy

from lapwise.engine.strategy import DecisionProblem, LastResort, Look, Plan, Remedy, quick


def perfect(p: tuple[float, ...], fixes: list[set[int]], looks: tuple[Look, ...] = ()) -> DecisionProblem:
    """Unit-cost remedies A1, A2 ... that surely fix the causes named (from 1)."""
    n = len(p)
    remedies = tuple(
        Remedy(f"A{i}", 1.0, None, 0.0, tuple(1.0 if c in cured else 0.0 for c in range(1, n + 1)))
        for i, cured in enumerate(fixes, 1)
    )
    return DecisionProblem(tuple(f"c{i}" for i in range(1, n + 1)), p, remedies, looks)


def first(plan: Plan, count: int) -> list[str]:
    return [step.remedy for step in plan.order[:count]]


# Jensen et al. 2001, "The SACSO methodology for troubleshooting complex systems", AI EDAM 15, Fig. 1 (read).
SACSO = perfect((0.20, 0.25, 0.40, 0.15), [{1, 2}, {2, 3}, {3, 4}])


def test_sacso_greedy_with_updating() -> None:
    plan = greedy(SACSO)
    assert first(plan, 3) == ["A2", "A1", "A3"]
    assert plan.expected_minutes == pytest.approx(1.50, abs=1e-12)
    # the printed efficiencies .45, .65, .55 are the first chances at unit cost
    assert plan.order[0].chance == pytest.approx(0.65, abs=1e-12)


def test_sacso_optimum() -> None:
    plan = exact(SACSO)
    assert first(plan, 2) == ["A3", "A1"]
    assert plan.expected_minutes == pytest.approx(1.45, abs=1e-12)
    assert plan.order[1].cumulative == pytest.approx(1.0, abs=1e-12)
    assert plan.runner_up is not None
    # A1 first: 1 + .55 + ...: A1, A3 costs 1 + .55 = 1.55; A2 first costs 1.50, so A2 is second best by .05
    assert plan.runner_up.remedy == "A2"
    assert plan.runner_up.extra_minutes == pytest.approx(0.05, abs=1e-12)


def test_sacso_quick_finds_the_optimum() -> None:
    assert quick(SACSO).expected_minutes == pytest.approx(1.45, abs=1e-12)


# Vomlelová 2003, "Complexity of decision-theoretic troubleshooting", Int. J. Intelligent Systems 18, Th. 4 (read).
def triples(m: int) -> DecisionProblem:
    n = 3 * m + 3
    looks = tuple(
        Look(
            f"Q{k}",
            1.0,
            (
                tuple(1.0 if c // 3 == k else 0.0 for c in range(n)),
                tuple(0.0 if c // 3 == k else 1.0 for c in range(n)),
            ),
        )
        for k in range(m)
    )
    return perfect((1.0 / n,) * n, [{i} for i in range(1, n + 1)], looks)


@pytest.mark.parametrize(("m", "printed"), [(1, 3.0), (2, 3.6667), (3, 4.25)])
def test_vomlelova_family(m: int, printed: float) -> None:
    plan = exact(triples(m))
    formula = 2 + Fraction(m * (m + 3), 2 * (m + 1))
    assert plan.expected_minutes == pytest.approx(float(formula), abs=1e-9)
    assert plan.expected_minutes == pytest.approx(printed, abs=5e-5)
    assert plan.look is not None
    assert plan.look.before == 1


# Lin 2014, "Decision-theoretic troubleshooting: hardness of approximation", IJAR 55, Fig. 2 (read).
LIN = perfect((0.5, 0.25, 0.25), [{1}, {2}, {3}], (Look("Q", 1.0, ((1.0, 1.0, 0.0), (0.0, 0.0, 1.0))),))


def test_lin_not_asking_is_better() -> None:
    plan = exact(LIN)
    assert plan.look is None
    assert first(plan, 3)[0] == "A1"
    assert plan.expected_minutes == pytest.approx(1.75, abs=1e-12)


def test_lin_asking_costs_two() -> None:
    """Asking after A1, as printed: 1 + ½·(1 + 1) = 2."""
    after = perfect((0.25, 0.25), [{1}, {2}])
    free = exact(after)
    asked = 1.0 + 0.5 * (1.0 + 1.0)
    not_asked = 1.0 + 0.5 * free.expected_minutes
    assert asked == pytest.approx(2.0)
    assert not_asked == pytest.approx(1.75)
    (value,) = quick(LIN).looks
    assert value.value_minutes == 0.0


# Langseth & Jensen 2003, "Decision theoretic troubleshooting of coherent systems", Reliability Engineering & System
# Safety 80, Ex. 4 (read; orders exact, printed values within .015).
CUT_SETS = perfect((0.1637, 0.3558, 0.2682, 0.2123), [{1}, {1, 2}, {2, 3}, {3, 4}, {4}])


def sequence(problem: DecisionProblem, names: list[str]) -> float:
    """Expected cost of a printed order, by hand."""
    left, total = dict(zip(problem.causes, problem.p, strict=True)), 0.0
    by_id = {r.id: r for r in problem.remedies}
    for name in names:
        total += sum(left.values()) * by_id[name].minutes
        left = {c: m * (1 - f) for (c, m), f in zip(left.items(), by_id[name].fix, strict=True)}
    assert sum(left.values()) < 1e-12
    return total


def test_langseth_jensen_coherent_system() -> None:
    plan = exact(CUT_SETS)
    assert first(plan, 2) == ["A2", "A4"]
    assert plan.expected_minutes == pytest.approx(1.47, abs=0.015)
    updating = greedy(CUT_SETS)
    assert first(updating, 3) == ["A3", "A4", "A2"]
    assert updating.expected_minutes == pytest.approx(1.53, abs=0.015)
    assert sequence(CUT_SETS, ["A3", "A2", "A4"]) == pytest.approx(1.58, abs=0.015)


# Heckerman, Breese & Rommelse 1995, "Decision-theoretic troubleshooting", Communications of the ACM 38(3) (read):
# with one fault, one action per fault and constant costs, falling p/c is optimal.
chance = st.integers(1, 100)
minutes = st.integers(1, 40)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(chance, minutes), min_size=2, max_size=5))
def test_one_action_per_fault_falling_p_over_c(parts: list[tuple[int, int]]) -> None:
    n = len(parts)
    remedies = tuple(
        Remedy(f"A{i}", float(c), None, 0.0, tuple(1.0 if j == i else 0.0 for j in range(n)))
        for i, (_, c) in enumerate(parts)
    )
    problem = DecisionProblem(tuple(f"c{i}" for i in range(n)), tuple(float(p) for p, _ in parts), remedies)
    total = sum(p for p, _ in parts)

    def cost(order: tuple[int, ...]) -> Fraction:
        out, left = Fraction(0), total
        for i in order:
            out += Fraction(left, total) * parts[i][1]
            left -= parts[i][0]
        return out

    best = min(map(cost, permutations(range(n))))
    plan = exact(problem)
    assert plan.expected_minutes == pytest.approx(float(best), rel=1e-9)
    rates = [parts[int(step.remedy[1:])][0] / parts[int(step.remedy[1:])][1] for step in plan.order]
    assert all(a >= b - 1e-9 for a, b in pairwise(rates))
    assert greedy(problem).expected_minutes == pytest.approx(float(best), rel=1e-9)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(chance, st.integers(1, 10)), min_size=2, max_size=4))
def test_inspect_then_repair_falling_p_over_c_observe(parts: list[tuple[int, int]]) -> None:
    """Each part can be inspected for sure and repaired for sure at 50 minutes; one more fault hides elsewhere.

    The hidden fault is so likely that no repair is made blindly; then the parts are inspected by falling p/c_observe.
    """
    n, hidden, repair, end = len(parts), 400.0, 50.0, 5000.0
    total = hidden + sum(p for p, _ in parts)
    looks = tuple(
        Look(
            f"L{i}",
            float(c),
            (
                tuple(1.0 if j == i else 0.0 for j in range(n + 1)),
                tuple(0.0 if j == i else 1.0 for j in range(n + 1)),
            ),
        )
        for i, (_, c) in enumerate(parts)
    )
    remedies = tuple(
        Remedy(f"A{i}", repair, None, 0.0, tuple(1.0 if j == i else 0.0 for j in range(n + 1))) for i in range(n)
    )
    problem = DecisionProblem(
        tuple(f"c{i}" for i in range(n + 1)),
        (*(float(p) for p, _ in parts), hidden),
        remedies,
        looks,
        LastResort("end", end),
    )
    order = sorted(range(n), key=lambda i: (-Fraction(*parts[i]), i))
    left, expected = total, hidden / total * end
    for i in order:
        expected += left / total * parts[i][1] + parts[i][0] / total * repair
        left -= parts[i][0]
    plan = exact(problem)
    assert plan.expected_minutes == pytest.approx(expected, rel=1e-9)
    assert plan.look is not None
    p, c = parts[int(plan.look.id[1:])]
    assert Fraction(p, c) == max(Fraction(*part) for part in parts)
