"""A small invented knowledge base, clean under every check but the one for the trade lists; and ways to load texts."""

from __future__ import annotations

import random
from pathlib import Path

from lapwise.engine.folders import Folders
from lapwise.engine.knowledge.files import File, files_in
from lapwise.engine.knowledge.loader import Loaded, build

SCALES = """
scales:
  chance: {judgement: a, words: {always: 0.98, usually: 0.85, often: 0.6, sometimes: 0.3, rarely: 0.1, never: 0.02}}
  strength: {judgement: a, words: {strongly: 2.3, moderately: 1.4, slightly: 0.7}}
  frequency: {judgement: a, words: {very-common: 4, common: 2, occasional: 1, uncommon: 0.5, rare: 0.2}}
  background: {judgement: a, number: 0.1}
  unexplained: {judgement: a, number: 0.02}
  other_share: {judgement: a, number: 0.05}
  better_factor: {judgement: a, number: 3}
  worse_factor: {judgement: a, number: 0.5}
  trial_minutes: {judgement: a, number: 0}
  look_minutes: {judgement: a, number: 0}
  begin_chance: {judgement: a, number: 0.5}
  begin_saving: {judgement: a, number: 0.5}
  begin_told: {judgement: a, number: 1}
  begin_order: {judgement: a, number: 0.5}
  begin_tries: {judgement: a, number: 20}
"""

BASE = """
materials:
  glimmer:
    label: Glimmer
    rank: family
    formula: SiO2
    crystal_system: trigonal
    mohs: {low: 6, high: 7, unit: Mohs, source: book}
    toughness: {level: fair, because: It chips now and then., source: practice}
    traits: [glassy-kind]
    polishes_with:
      - {laps: [soft-disc, hard-disc], compounds: [red-powder], source: book}
    avoid:
      - {laps: [], compounds: [grey-grit], because: It only tears the surface., source: practice}
    cautions: [dust]
    notes: [{text: An invented stone., source: practice}]
  blue-glimmer: {label: Blue glimmer, rank: species, parent: glimmer, traits: [flawed-kind], also: [bluestone]}
  sky-glimmer:
    label: Sky glimmer
    rank: variety
    parent: blue-glimmer
    mohs: {low: 7, high: 7, unit: Mohs, source: memory, memory: true}
    cautions: [splinters]
  dullite:
    label: Dullite
    rank: species
    formula: CaF2
    crystal_system: cubic
    mohs: {low: 4, high: 4, unit: Mohs, source: book}
    polishes_with: [{laps: [soft-disc], compounds: [red-powder], source: practice}]
laps:
  soft-disc:
    {label: Soft disc, about: Soft., hardness: 2, traits: [gentle], carries: [oxide], rpm: [50, 200], source: book}
  hard-disc:
    {label: Hard disc, about: Hard., hardness: 8, traits: [stiff], carries: [oxide, diamond-x], rpm: [100, 400],
     source: practice}
compounds:
  red-powder:
    {label: Red powder, about: Fine., kind: oxide, typical_um: 1, um: {low: 0.5, high: 2, unit: µm, source: book},
     source: book}
  grey-grit: {label: Grey grit, about: Coarse., kind: carbide, typical_um: 20, source: practice}
  diamond-x: {label: Diamond, about: Sharp., kind: diamond, mesh: 8000, typical_um: 3, source: practice}
symptoms:
  lines:
    {label: Lines, about: Fine lines., how: Look at 10x., not_to_confuse: {fog: fog has no lines},
     says: {grit: usually, clog: sometimes}, because: Lines are made by grains., source: book}
  fog:
    {label: Fog, about: A milky look., how: Look at a lamp.,
     says: {clog: usually}, because: A clogged lap smears., source: practice}
causes:
  grit: {label: grit on the lap, about: Coarse grains., confirm: Try a clean lap., base: common, source: book}
  clog:
    {label: a clogged lap, about: Old compound., confirm: Scrape it., base: very-common, stages: [polish],
     source: practice}
  other: {label: something else, about: None of these., confirm: Nothing else fits., base: rare, source: practice}
remedies:
  wash:
    label: Wash the lap
    about: Take off what lies on it.
    steps: [Stop the lap., Scrub it.]
    minutes: 6
    setup: {group: sink, minutes: 3}
    fixes: {grit: usually, clog: often}
    worse: {chance: never, minutes: 0}
    cautions: [spinning]
    source: practice
  swap:
    label: Take the other disc
    about: Another disc.
    steps: [Change the disc.]
    minutes: 10
    fixes: {clog: usually}
    to: {keep: compound, relation: other}
    source: book
looks:
  peek:
    label: Look closely
    about: Look at the facet at 10x.
    minutes: 2
    results: {rows: rows of dots, clear: nothing}
    otherwise: {rows: rarely, clear: usually}
    says: {grit: {rows: usually, clear: rarely}}
    source: practice
cautions:
  dust: {label: Dust, hazard: Dust harms., action: Work wet., source: book, general: true}
  splinters: {label: Splinters, hazard: Splinters., action: Wear glasses., source: practice}
  spinning: {label: Spinning lap, hazard: It grabs., action: Stop it first., source: practice}
findings:
  dirty: {label: the lap is dirty}
traits:
  glassy-kind: like glass
  flawed-kind: often flawed
lap_traits:
  gentle: gives way
  stiff: does not give way
sources:
  book: {cite: An invented book, status: memory}
"""

RULES = """
rules:
  shared-is-dirty:
    when:
      - lap_shared: 'yes'
      - any: [{lap_trait: gentle}, {carrier: water, wetness: [damp, wet]}]
    then: {finding: [dirty]}
    because: Grains stay in the face.
    source: practice
    limits: Not if it was scrubbed.
  dirty-is-grit:
    when: [{finding: dirty}]
    then: {for: {grit: strongly}, favours: {swap: moderately}, look: [peek]}
    because: Grit rides on a dirty lap.
    source: book
  oil-hides-it:
    when: [{not: {carrier: oil}}, {mohs: {at_least: 6, below: 8}}]
    then: {against: {clog: slightly}}
    because: Water shows clogging soon.
    source: practice
  soft-stone-no-swap:
    when: [{material: dullite}, {not: {lap_shared: 'no'}}]
    then: {veto: [swap]}
    because: A soft stone tears there.
    source: practice
"""


def write(folder: Path, **texts: str) -> Path:
    """A folder with one YAML file for each text, named by its key; ``rules`` goes into a folder of that name."""
    for name, text in texts.items():
        inner = folder / ("rules" if name.startswith("rules") else "knowledge")
        inner.mkdir(parents=True, exist_ok=True)
        (inner / f"{name}.yaml").write_text(text, encoding="utf-8")
    return folder


def shipped(folder: Path) -> tuple[File, ...]:
    """The files of a folder as if they had been shipped."""
    return tuple(File(f.name, f.path, False, f.stamp) for f in files_in(folder))


def base_files(tmp_path: Path, **more: str) -> tuple[File, ...]:
    """The files of the sample, as if shipped; ``more`` adds or replaces texts."""
    texts = {"base": BASE, "scales": SCALES, "rules": RULES} | more
    return shipped(write(tmp_path / "shipped", **texts))


def load_sample(tmp_path: Path, own: Path | None = None, **more: str) -> Loaded:
    """The sample with an own folder over it."""
    return build(base_files(tmp_path, **more), files_in(own) if own else ())


def folders_at(path: Path) -> Folders:
    """Folders below ``path``."""
    return Folders(path, path / "config", path / "cache")


NOISE = ":-[]{}#&*!|>'\"%@`,?\n\t 0no~<\x00é\ud7ff"


def mutated(text: str, chance: random.Random) -> str:
    """One to three small faults: a character lost, doubled, swapped or put in, or a line moved."""
    for _ in range(chance.randint(1, 3)):
        i = chance.randrange(len(text))
        kind = chance.randrange(5)
        if kind == 0:
            text = text[:i] + text[i + chance.randint(1, 8) :]
        elif kind == 1:
            text = text[:i] + chance.choice(NOISE) + text[i:]
        elif kind == 2:
            text = text[:i] + text[i : i + 20] + text[i:]
        elif kind == 3:
            j = chance.randrange(len(text))
            text = text[:i] + text[j : j + 30] + text[i:]
        else:
            lines = text.split("\n")
            lines.insert(chance.randrange(len(lines)), lines.pop(chance.randrange(len(lines))))
            text = "\n".join(lines)
    return text
