"""From two benches and a thousand invented ones to a third bench's better advice, by the commands of the guild page.

Run: python tests/benchmarks/bench_guild_whole.py [--benches 1000] [--quarters 4] [--cases 10]

The knowledge is the shipped one. An invented truth is drawn around its judgement: each chance moved on the log-odds
scale (sd 1.2), each cause's frequency multiplied by a log-normal (sd 0.8), and both once more for each bench (0.5 and
0.4). An invented bench meets troubles of eight stones, follows the advice as far as six remedies, and gives what its
cases of the quarter taught. Two more benches log through `lapwise log` and give by `lapwise record share`. Then
`lapwise guild pool` adds up everything given so far, and `lapwise knowledge add` takes it: for the third bench, which
gives nothing, and for all the others, whose advice and credit follow it in the next quarter. Shown is the order of
the third gives bench in expected minutes under its own truth, before and after each quarter, and that of a planner
who knows the truth (exact; 240 where none of the first six helps, and where nothing of the whole order does). Nothing
here is measured on stones.
"""

from __future__ import annotations

import argparse
import math
import random
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from lapwise.engine.case import Case
from lapwise.engine.diagnosis import Session
from lapwise.engine.folders import folders
from lapwise.engine.guild import share as shares
from lapwise.engine.guild.sharefile import write
from lapwise.engine.knowledge import files
from lapwise.engine.knowledge.loader import build, load
from lapwise.engine.knowledge.model import Knowledge, Remedy
from lapwise.engine.learning import Learned, fix_chances
from lapwise.engine.record.credit import counts_of
from lapwise.engine.record.model import CaseRecord, Step
from lapwise.engine.strategy import quick

STONES = ("topaz", "emerald", "aquamarine", "ruby", "fluorite", "peridot", "rock-crystal", "spinel")
LAST, TRIES = 240.0, 6
Truth = tuple[dict[tuple[str, str], float], dict[str, float]]
"""What moves P(fix | cause) on the log-odds scale, and the factor on each cause's frequency."""


@dataclass(frozen=True)
class Setting:
    """A trouble with the advice on it: remedies in order with minutes and chances by cause, ``base`` without the rules
    of this case."""

    case: Case
    posterior: dict[str, float]
    order: tuple[str, ...]
    minutes: dict[str, float]
    fix: dict[str, dict[str, float]]
    base: dict[str, dict[str, float]]


@dataclass(frozen=True)
class Advice:
    """Each trouble as shipped and with the advice of now, and the learned factors on causes."""

    both: list[tuple[Setting, Setting]]
    factors: Mapping[str, float]


def settings(session: Session, knowledge: Knowledge) -> list[Setting]:
    """Every trouble on every stone of the list, with the advice of this session."""
    out = []
    for stone in STONES:
        if stone not in knowledge.materials:
            continue
        pair = next(p for p in knowledge.materials[stone].polishes_with if p.laps and p.compounds)
        for symptom in ("haze", "fine-scratches", "stays-dull", "scratches-return", "slow-polish", "orange-peel"):
            case = Case(material=stone, lap=pair.laps[0], compound=pair.compounds[0], symptoms=(symptom,))
            ready = session.prepare(case)
            fix = {o.remedy.id: dict(o.fix) for o in ready.options}
            minutes = {o.remedy.id: o.remedy.minutes + o.remedy.setup_minutes for o in ready.options}
            order = tuple(s.remedy for s in ready.plan.order if s.remedy in fix)
            learned = fix_chances(None, knowledge, case.material, case.lap, case.compound)
            base = {o.remedy.id: {c: before_rules(learned, o.remedy, c) for c in o.fix} for o in ready.options}
            out.append(Setting(case, dict(ready.belief.p), order, minutes, fix, base))
    return out


def before_rules(learned: Learned, remedy: Remedy, cause: str) -> float:
    """P(fix | cause) before any rule of a case, as it is kept with a logged step."""
    together = learned.fix(remedy.id, cause)
    return learned.knowledge.scales.chance[remedy.fixes[cause]] if together is None else together


def moved(p: float, by: float) -> float:
    """A chance moved on the log-odds scale, never 0 or 1."""
    p = min(max(p, 0.003), 0.997)
    return 1.0 / (1.0 + math.exp(-(math.log(p / (1.0 - p)) + by)))


def drawn(
    knowledge: Knowledge, dice: random.Random, chance: float, frequency: float, around: Truth | None = None
) -> Truth:
    """A truth around the judgement, or around another truth."""
    fix = {(r.id, c): dice.gauss(0, chance) for r in knowledge.remedies.values() for c in r.fixes}
    causes = {c: math.exp(dice.gauss(0, frequency)) for c in knowledge.causes}
    if around:
        fix = {k: v + around[0][k] for k, v in fix.items()}
        causes = {k: v * around[1][k] for k, v in causes.items()}
    return fix, causes


def true_belief(s: Setting, truth: Truth) -> dict[str, float]:
    """P(cause) under a truth."""
    weights = {c: p * truth[1].get(c, 1.0) for c, p in s.posterior.items()}
    total = sum(weights.values())
    return {c: w / total for c, w in weights.items()}


def expected(s: Setting, order: tuple[str, ...], truth: Truth, tries: int | None = None) -> float:
    """Expected minutes of an order under a truth. ``s``: as shipped."""
    alive, total = true_belief(s, truth), 0.0
    for remedy in order[:tries]:
        total += sum(alive.values()) * s.minutes[remedy]
        fix = s.fix[remedy]
        alive = {c: p * (1 - (moved(fix[c], truth[0][remedy, c]) if c in fix else 0.0)) for c, p in alive.items()}
    return total + sum(alive.values()) * LAST


Met = tuple[str, tuple[tuple[str, bool], ...]]
"""A case as it went: the cause that nobody was told, and what was tried, with whether it cured."""


def met(s: Setting, now: Setting, truth: Truth, dice: random.Random) -> Met:
    """One case of a bench that follows the advice ``now``; ``s`` is the same trouble as shipped."""
    belief = true_belief(s, truth)
    cause = dice.choices(list(belief), list(belief.values()))[0]
    done = []
    for remedy in now.order[:TRIES]:
        shipped = s.fix.get(remedy, {})
        cured = cause in shipped and dice.random() < moved(shipped[cause], truth[0][remedy, cause])
        done.append((remedy, cured))
        if cured:
            break
    return cause, tuple(done)


def logged(now: Setting, factors: Mapping[str, float], case: Met, number: int, *, known: bool = False) -> CaseRecord:
    """The case in a record kept by the advice ``now``; ``known``: as if a look had shown the cause."""
    cause, done = case
    p, steps = dict(now.posterior), []
    for n, (remedy, cured) in enumerate(done):
        fix = now.fix[remedy]
        after = {c: x * (fix.get(c, 0.0) if cured else 1 - fix.get(c, 0.0)) for c, x in p.items()}
        total = sum(after.values())
        after = {c: float(c == cause) for c in p} if known else {c: x / total for c, x in after.items()}
        shown = {"posterior": p, "after": after, "fix": fix, "base": now.base[remedy], "factors": factors}
        outcome = "fixed" if cured else "no-change"
        steps.append(Step(f"{number:030d}{n:06d}", str(number), "", "try", remedy=remedy, outcome=outcome, shown=shown))
        p = p if known else after
    result = "fixed" if done[-1][1] else "given-up"
    return CaseRecord(str(number), "2026-01-01", now.case, False, result, tuple(steps))


def invented(
    knowledge: Knowledge, advice: Advice, truth: Truth, seed: int, quarter: int, cases: int
) -> shares.Gathered:
    """What one invented bench gives for a quarter."""
    own = drawn(knowledge, random.Random(seed), 0.5, 0.4, truth)
    dice = random.Random(seed * 100 + quarter)
    names, out = shares.Names(knowledge, knowledge), shares.Gathered()
    for number in range(cases):
        s, now = dice.choice(advice.both)
        added, _ = shares.cells(counts_of(logged(now, advice.factors, met(s, now, own, dice), number)), names)
        out.cases.append(str(number))
        for key, (trials, hits) in added.items():
            kept = out.rows.setdefault(key, [0, 0])
            kept[0] += trials
            kept[1] += hits
    return out


def omniscient(session: Session, s: Setting, truth: Truth) -> tuple[str, ...]:
    """The order of a planner who knows the truth."""
    problem = session.prepare(s.case).problem
    belief = true_belief(s, truth)

    def chance(remedy: str, cause: str) -> float:
        fix = s.fix[remedy]
        return moved(fix[cause], truth[0][remedy, cause]) if cause in fix else 0.0

    remedies = tuple(replace(r, fix=tuple(chance(r.id, c) for c in problem.causes)) for r in problem.remedies)
    known = replace(problem, p=tuple(belief[c] for c in problem.causes), remedies=remedies, looks=())
    return tuple(x.remedy for x in quick(known).order if x.remedy in s.fix)


def lapwise(*args: str) -> str:
    """Run a command; its answer."""
    code = "from lapwise.tui.cli.main import main; main()"
    done = subprocess.run([sys.executable, "-c", code, *args], capture_output=True, text=True, check=False)
    if done.returncode:
        raise SystemExit(f"lapwise {' '.join(args)}: {done.returncode}\n{done.stdout}{done.stderr}")
    return done.stdout


def log_some(data: Path, found: list[Setting], truth: Truth, dice: random.Random, cases: int) -> None:
    """Cases logged by the command, as a person would."""
    for _ in range(cases):
        s = dice.choice(found)
        record = logged(s, {}, met(s, s, truth, dice), 0)
        where = ("--data", str(data), "--symptom", s.case.symptoms[0])
        where += ("--material", str(s.case.material), "--lap", str(s.case.lap), "--compound", str(s.case.compound))
        for n, step in enumerate(record.steps):
            tried = [x for b in record.steps[:n] for x in ("--tried", f"{b.remedy}=no-change")]
            lapwise("log", *where, *tried, "--remedy", str(step.remedy), "--outcome", str(step.outcome))


def told(name: str, minutes: list[list[float]], first: list[list[float]]) -> None:
    """A line: minutes within six tries and of the whole order, and the gain on ``first`` (95 % over troubles)."""
    cells = []
    for now, before in zip(minutes, first, strict=True):
        gains = [b - n for b, n in zip(before, now, strict=True)]
        mean, half = statistics.fmean(gains), 1.96 * statistics.stdev(gains) / math.sqrt(len(gains))
        cells.append(f"{statistics.fmean(now):7.1f}  gain {mean:5.1f} ({mean - half:.1f} to {mean + half:.1f})")
    print(f"{name:<14}" + "   ".join(f"{c:<36}" for c in cells), flush=True)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--benches", type=int, default=1000)
    parser.add_argument("--quarters", type=int, default=4)
    parser.add_argument("--cases", type=int, default=10)
    options = parser.parse_args()
    knowledge = build(files.shipped_files(), ()).knowledge
    shipped = Session(knowledge)
    found = settings(shipped, knowledge)
    truth = drawn(knowledge, random.Random(8000), 1.2, 0.8)
    own = drawn(knowledge, random.Random("cleo"), 0.5, 0.4, truth)

    def minutes(orders: list[tuple[str, ...]]) -> list[list[float]]:
        return [[expected(s, o, own, t) for s, o in zip(found, orders, strict=True)] for t in (TRIES, None)]

    with tempfile.TemporaryDirectory() as name:
        work = Path(name)
        given, third = work / "shares", work / "cleo"
        for bench in ("ann", "bob"):
            (given / bench).mkdir(parents=True)
            dice = random.Random(bench)
            log_some(work / bench, found, drawn(knowledge, dice, 0.5, 0.4, truth), dice, 3)
            print(lapwise("record", "share", str(given / bench / "1.jsonl"), "--data", str(work / bench), "--yes"))
        advice = Advice([(s, s) for s in found], {})
        first = minutes([s.order for s in found])
        print(f"third bench, {len(found)} troubles   within six tries{'':<24}whole order")
        told("as shipped", first, first)
        for quarter in range(1, options.quarters + 1):
            for n in range(options.benches):
                gathered = invented(knowledge, advice, truth, 8001 + n, quarter, options.cases)
                folder = given / f"invented-{n:05d}"
                folder.mkdir(exist_ok=True)
                with (folder / f"{quarter}.jsonl").open("xb") as file:
                    write(shares.share_of(gathered, knowledge, "invented"), file, "x.jsonl")
            experience = work / f"{quarter}" / "experience.yaml"
            experience.parent.mkdir()
            lapwise("guild", "pool", str(given), "--out", str(experience))
            lapwise("knowledge", "add", str(experience), "--data", str(third))
            learned = load(folders(third)).knowledge
            now = settings(Session(learned), learned)
            told(f"quarter {quarter}", minutes([s.order for s in now]), first)
            advice = Advice(list(zip(found, now, strict=True)), fix_chances(None, learned).cause_factors())
        told("omniscient", minutes([omniscient(shipped, s, own) for s in found]), first)
        lapwise("knowledge", "remove", "experience.yaml", "--data", str(third))
        again = settings(Session(load(folders(third)).knowledge), knowledge)
        print(f"removed: every order as it was before: {[s.order for s in again] == [s.order for s in found]}")


if __name__ == "__main__":
    main()
