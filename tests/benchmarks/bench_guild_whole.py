"""From two benches and a thousand invented ones to a third bench's better advice, by the commands of the guild page.

Run: python tests/benchmarks/bench_guild_whole.py [--benches 1000] [--cases 40]

The knowledge is the shipped one. An invented truth is drawn around its judgement: each chance moved on the log-odds
scale (sd 1.2), each cause's frequency multiplied by a log-normal (sd 0.8), and both once more for each bench (0.5 and
0.4). An invented bench meets troubles of eight stones, follows the shipped advice as far as six remedies, and gives
what its cases taught. Two more benches log through `lapwise log` and give by `lapwise record share`. Then `lapwise
guild pool`, `lapwise knowledge add`, and the order of the third bench before and after, in expected minutes under its
own truth (exact; 240 where nothing of the order helps). Nothing here is measured on stones.
"""

from __future__ import annotations

import argparse
import math
import random
import statistics
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

from lapwise.engine.case import Case
from lapwise.engine.diagnosis import Session
from lapwise.engine.folders import folders
from lapwise.engine.guild import share as shares
from lapwise.engine.guild.sharefile import write
from lapwise.engine.knowledge import files
from lapwise.engine.knowledge.loader import build, load
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.record.credit import counts_of
from lapwise.engine.record.model import CaseRecord, Step

STONES = ("topaz", "emerald", "aquamarine", "ruby", "fluorite", "peridot", "rock-crystal", "spinel")
LAST, TRIES = 240.0, 6
Truth = tuple[dict[tuple[str, str], float], dict[str, float]]
"""What moves P(fix | cause) on the log-odds scale, and the factor on each cause's frequency."""


@dataclass(frozen=True)
class Setting:
    """A trouble with the shipped advice on it: remedies in order with minutes and chances by cause."""

    case: Case
    posterior: dict[str, float]
    order: tuple[str, ...]
    minutes: dict[str, float]
    fix: dict[str, dict[str, float]]


def settings(session: Session, knowledge: Knowledge) -> list[Setting]:
    """Every trouble on every stone of the list."""
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
            out.append(Setting(case, dict(ready.belief.p), order, minutes, fix))
    return out


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


def expected(s: Setting, order: tuple[str, ...], truth: Truth) -> float:
    """Expected minutes of an order under a truth."""
    alive, total = true_belief(s, truth), 0.0
    for remedy in order[:TRIES]:
        total += sum(alive.values()) * s.minutes[remedy]
        fix = s.fix[remedy]
        alive = {c: p * (1 - (moved(fix[c], truth[0][remedy, c]) if c in fix else 0.0)) for c, p in alive.items()}
    return total + sum(alive.values()) * LAST


def lived(s: Setting, truth: Truth, dice: random.Random, number: int) -> CaseRecord:
    """One case as a bench that follows the shipped advice would log it."""
    belief = true_belief(s, truth)
    cause = dice.choices(list(belief), list(belief.values()))[0]
    p, steps, cured = dict(s.posterior), [], False
    for n, remedy in enumerate(s.order[:TRIES]):
        fix = s.fix[remedy]
        cured = cause in fix and dice.random() < moved(fix[cause], truth[0][remedy, cause])
        after = {c: x * (fix.get(c, 0.0) if cured else 1 - fix.get(c, 0.0)) for c, x in p.items()}
        total = sum(after.values())
        after = {c: x / total for c, x in after.items()}
        shown = {"posterior": p, "after": after, "fix": fix, "base": fix}
        outcome = "fixed" if cured else "no-change"
        steps.append(Step(f"{number:030d}{n:06d}", str(number), "", "try", remedy=remedy, outcome=outcome, shown=shown))
        p = after
        if cured:
            break
    return CaseRecord(str(number), "2026-01-01", s.case, False, "fixed" if cured else "given-up", tuple(steps))


def invented(knowledge: Knowledge, found: list[Setting], truth: Truth, seed: int, cases: int) -> shares.Gathered:
    """What one invented bench gives."""
    dice = random.Random(seed)
    own = drawn(knowledge, dice, 0.5, 0.4, truth)
    names, out = shares.Names(knowledge, knowledge), shares.Gathered()
    for number in range(cases):
        added, _ = shares.cells(counts_of(lived(dice.choice(found), own, dice, number)), names)
        out.cases.append(str(number))
        for key, (trials, hits) in added.items():
            kept = out.rows.setdefault(key, [0, 0])
            kept[0] += trials
            kept[1] += hits
    return out


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
        record = lived(s, truth, dice, 0)
        where = ("--data", str(data), "--symptom", s.case.symptoms[0])
        where += ("--material", str(s.case.material), "--lap", str(s.case.lap), "--compound", str(s.case.compound))
        for n, step in enumerate(record.steps):
            tried = [x for b in record.steps[:n] for x in ("--tried", f"{b.remedy}=no-change")]
            lapwise("log", *where, *tried, "--remedy", str(step.remedy), "--outcome", str(step.outcome))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--benches", type=int, default=1000)
    parser.add_argument("--cases", type=int, default=40)
    options = parser.parse_args()
    knowledge = build(files.shipped_files(), ()).knowledge
    found = settings(Session(knowledge), knowledge)
    truth = drawn(knowledge, random.Random(8000), 1.2, 0.8)
    with tempfile.TemporaryDirectory() as name:
        work = Path(name)
        given = work / "shares"
        given.mkdir()
        began = time.monotonic()
        for n in range(options.benches):
            gathered = invented(knowledge, found, truth, 8001 + n, options.cases)
            with (given / f"invented-{n:05d}.jsonl").open("xb") as file:
                write(shares.share_of(gathered, knowledge, "invented"), file, "x.jsonl")
        print(f"{options.benches} invented benches, {options.cases} cases each: {time.monotonic() - began:.0f} s")
        for bench in ("ann", "bob"):
            dice = random.Random(bench)
            log_some(work / bench, found, drawn(knowledge, dice, 0.5, 0.4, truth), dice, 3)
            print(lapwise("record", "share", str(given / f"{bench}.jsonl"), "--data", str(work / bench), "--yes"))
        began = time.monotonic()
        print(lapwise("guild", "pool", str(given), "--out", str(work / "experience.yaml")), end="")
        print(f"added up in {time.monotonic() - began:.0f} s\n")
        third = work / "cleo"
        before = Session(load(folders(third)).knowledge)
        print(lapwise("knowledge", "add", str(work / "experience.yaml"), "--data", str(third)))
        after = Session(load(folders(third)).knowledge)
        own = drawn(knowledge, random.Random("cleo"), 0.5, 0.4, truth)
        rows = []
        for s in found:
            orders = []
            for session in (before, after):
                plan = session.prepare(s.case).plan.order
                orders.append(tuple(x.remedy for x in plan if x.remedy in s.fix))
            rows.append((expected(s, orders[0], own), expected(s, orders[1], own)))
        gains = [a - b for a, b in rows]
        half = 1.96 * statistics.stdev(gains) / math.sqrt(len(gains))
        print(
            f"third bench, {len(rows)} troubles, expected minutes under its own truth: "
            f"{statistics.fmean(a for a, _ in rows):.1f} before, {statistics.fmean(b for _, b in rows):.1f} after; "
            f"gain {statistics.fmean(gains):.1f} ({statistics.fmean(gains) - half:.1f} to "
            f"{statistics.fmean(gains) + half:.1f}); better in {sum(g > 0.5 for g in gains)}, "
            f"worse in {sum(g < -0.5 for g in gains)}"
        )
        lapwise("knowledge", "remove", "experience.yaml", "--data", str(third))
        again = Session(load(folders(third)).knowledge)
        same = all(again.prepare(s.case).plan.order == before.prepare(s.case).plan.order for s in found)
        print(f"removed: every order as it was before: {same}")


if __name__ == "__main__":
    main()
