"""Draft files for a person's own material or rule: commented, in the form the loader reads."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

from lapwise.engine.errors import BadInput, Issue
from lapwise.engine.folders import Folders
from lapwise.engine.knowledge.fields import ID
from lapwise.engine.knowledge.model import KINDS, Knowledge, Level, Material

MATERIAL = """\
# Your own material. Fill in what you know and leave out the lines you do not need: with a parent, everything that is
# not said here is taken from it. Then run: lapwise knowledge check
materials:
  {id}:
    label: {label}
    rank: variety                 # family, species or variety
    parent: {parent}                # a material that is already known; without one, give formula and crystal_system
    # formula: SiO2
    # crystal_system: trigonal
    # mohs: {{low: 7, high: 7, unit: Mohs, source: practice}}
    # cleavage: [{{plane: basal, quality: good, source: practice, keep_off_degrees: 5}}]
    # toughness: {{level: fair, because: Say why in one sentence., source: practice}}      # poor fair good excellent
    # heat: {{level: moderate, because: Say why in one sentence., source: practice}}       # low moderate high extreme
    # traits: [often-included]      # lapwise knowledge list traits
    # polishes_with:                # the best first
    #   - {{laps: [acrylic-lap], compounds: [cerium-oxide], source: practice}}
    # avoid:
    #   - {{laps: [], compounds: [silicon-carbide], because: Say why in one sentence., source: practice}}
    # cautions: [silica-dust]       # lapwise knowledge list cautions
    notes:
      - {{text: Say in one sentence what is special about it., source: practice}}
"""

RULE = """\
# Your own rule. All lines under "when" must hold; see "lapwise knowledge list conditions" for what can be asked.
# Then run: lapwise knowledge check
rules:
  {id}:
    when:
      - material: quartz
      - lap_surface: [caked, glazed]     # a list means any of these
      # - mohs: {{at_least: 7}}            # at_least, above, at_most, below
      # - not: {{carrier: oil}}            # something known not to be so
    then:
      for: {{loaded-lap: moderately}}      # strongly, moderately or slightly; also: against
      # favours: {{clean-lap: moderately}}   # likelier to work; also: disfavours
      # veto: [press-harder]             # must not be done
      # look: [loupe-check]
      # caution: [rotating-lap]
    because: Say in one sentence why this is so.
    source: practice
    limits: Say when it does not hold.
"""


def draft(kind: str, id_: str, knowledge: Knowledge) -> str:
    """The text of a draft; ``kind`` is "material" or "rule". Raises :class:`BadInput` for an id that will not do."""
    where = f"lapwise knowledge new {kind}"
    if not ID.fullmatch(id_) or len(id_) > 60:
        raise BadInput(
            Issue("an id is lower-case letters and digits joined by hyphens, 60 characters at most", where, id_[:80])
        )
    for list_ in KINDS:
        wanted = "materials" if kind == "material" else "rules"
        if id_ in getattr(knowledge, list_) and list_ != wanted:
            raise BadInput(Issue(f"this id is already used for something else, among the {list_}", where, id_))
    if kind == "rule":
        return RULE.format(id=id_)
    known = knowledge.materials.get(id_)
    if known is not None and len(known.line) == 1:
        what = "this family is already known, and others depend on it; give yours another id"
        raise BadInput(Issue(what, where, id_, (f"my-{id_}",)))
    if known is None:
        return MATERIAL.format(id=id_, label=id_.replace("-", " ").capitalize(), parent="quartz")
    text = MATERIAL.format(id=id_, label=known.label, parent=known.line[1])
    return text.replace("    notes:\n", SHIPPED + "".join(_dangers(known)) + "    notes:\n")


SHIPPED = """\
    # This entry takes the place of the shipped one. What that one says of dangers is repeated here to keep it.
"""


def _dangers(known: Material) -> Iterator[str]:
    """What is shipped on how the stone is harmed and harms, in the form of the file."""
    for name in ("toughness", "heat", "acid", "water", "directional"):
        level: Level | None = getattr(known, name)
        if level is not None:
            because = json.dumps(level.because, ensure_ascii=False)
            yield f"    {name}: {{level: {level.level}, because: {because}, source: {level.source}}}\n"
    if known.traits:
        yield f"    traits: [{', '.join(sorted(known.traits))}]\n"
    if known.cautions:
        yield f"    cautions: [{', '.join(known.cautions)}]\n"


def path_for(kind: str, id_: str, where: Folders) -> Path:
    """Where the draft goes in the person's own folder."""
    return (where.own_knowledge / "materials" if kind == "material" else where.own_rules) / f"{id_}.yaml"


def write(path: Path, text: str) -> None:
    """Write a new file; raises :class:`BadInput` if there is one already."""
    path.parent.mkdir(parents=True, exist_ok=True)
    try:
        with path.open("x", encoding="utf-8") as stream:
            stream.write(text)
    except FileExistsError:
        raise BadInput(Issue("this file is already there and is not written over", str(path))) from None
