"""Everything known, as typed and frozen structures: what the loader makes of the YAML files.

Past the loader nobody sees a raw dictionary. Every list is keyed by id and every id is unique over all lists.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from itertools import takewhile
from typing import Literal

from lapwise.engine.knowledge.place import Place, Source
from lapwise.engine.knowledge.rule_model import Habit, Rule
from lapwise.engine.wording import plain_id

MEMORY = "memory"
PRACTICE = "practice"


@dataclass(frozen=True, slots=True)
class Span:
    """A measured range with its unit and source; ``low`` equals ``high`` for a single value."""

    low: float
    high: float
    unit: str
    source: str
    memory: bool = False

    @property
    def middle(self) -> float:
        """Middle of the range, in ``unit``."""
        return (self.low + self.high) / 2


@dataclass(frozen=True, slots=True)
class Cleavage:
    """One cleavage: the plane in words or indices, its quality, and how near is dangerous (degrees, or None)."""

    plane: str
    quality: Literal["none", "poor", "fair", "good", "perfect"]
    source: str
    keep_off_degrees: float | None = None


@dataclass(frozen=True, slots=True)
class Level:
    """A judged level in one word with its reason and source."""

    level: str
    because: str
    source: str


@dataclass(frozen=True, slots=True)
class Pair:
    """Laps and compounds known to go (or known not to go) together on a material; lists are alternatives.

    An empty ``laps`` or ``compounds`` means any. ``stage``: polish or prepolish.
    """

    laps: tuple[str, ...]
    compounds: tuple[str, ...]
    source: str
    because: str = ""
    stage: str = "polish"


@dataclass(frozen=True, slots=True)
class Note:
    """One sentence of knowledge with its source."""

    text: str
    source: str


@dataclass(frozen=True, slots=True)
class Labelled:
    """An entry that a person may name."""

    id: str
    label: str
    place: Place


@dataclass(frozen=True, slots=True)
class Material(Labelled):
    """A gem material, merged with what it inherits. ``line``: itself first, then each group up to the family."""

    rank: Literal["family", "species", "variety"]
    line: tuple[str, ...]
    formula: str
    crystal_system: str
    mohs: Span | None
    sg: Span | None
    ri: Span | None
    cleavage: tuple[Cleavage, ...]
    toughness: Level | None
    heat: Level | None
    acid: Level | None
    water: Level | None
    directional: Level | None
    traits: frozenset[str]
    polishes_with: tuple[Pair, ...]
    """In order of preference."""
    avoid: tuple[Pair, ...]
    cautions: tuple[str, ...]
    notes: tuple[Note, ...]
    also: tuple[str, ...] = ()
    """Other names and plain words for it (so in every list): what a text or a search finds it by."""


@dataclass(frozen=True, slots=True)
class Lap(Labelled):
    """A type of lap. ``hardness``: rank of the body from 1 (cloth, wax) to 10 (ceramic), judgement.

    ``carries``: compound ids or kinds it is used with. ``rpm``: usual speed range for polishing.
    """

    about: str
    hardness: float
    traits: frozenset[str]
    carries: tuple[str, ...]
    rpm: tuple[int, int]
    cautions: tuple[str, ...]
    care: tuple[str, ...]
    source: str
    also: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Compound(Labelled):
    """A compound or grade. ``um``: grain range in micrometres, None if not known; ``typical_um`` its usual middle."""

    about: str
    kind: Literal["oxide", "carbide", "diamond", "none"]
    mesh: int | None
    um: Span | None
    typical_um: float | None
    cautions: tuple[str, ...]
    source: str
    also: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Symptom(Labelled):
    """What is seen or felt. ``how``: how to see it. ``not_to_confuse``: symptom id to how they differ.

    ``says``: cause to P(this symptom | cause) as a chance word; a cause not named explains it ``unexplained``.
    ``because``, ``source`` and ``limits`` speak of ``says``.
    """

    about: str
    how: str
    not_to_confuse: Mapping[str, str]
    says: Mapping[str, str] = field(default_factory=dict)
    because: str = ""
    source: str = ""
    limits: str = ""
    also: tuple[str, ...] = ()
    remains: str = ""
    """What stays when the cause is cured, and what takes it away; "" where polishing does."""


@dataclass(frozen=True, slots=True)
class Appearance(Labelled):
    """What symptoms look or feel like in common: a group of their list. ``also``: words that lead to it.

    ``plainly``: the symptom that the bare word of the group is taken for where nothing tells more; "" if none.
    """

    symptoms: tuple[str, ...]
    plainly: str
    also: tuple[str, ...] = ()
    felt: bool = False
    """It is noticed at the machine, not seen on the facet."""


@dataclass(frozen=True, slots=True)
class Cause(Labelled):
    """Why a facet will not polish. ``base``: relative frequency before anything is known (a word of the scale)."""

    about: str
    confirm: str
    base: str
    stages: tuple[str, ...]
    source: str
    also: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Target:
    """What a remedy that changes lap or compound goes to; empty means any. ``keep``: what must stay as it is."""

    laps: tuple[str, ...] = ()
    lap_traits: tuple[str, ...] = ()
    compounds: tuple[str, ...] = ()
    kinds: tuple[str, ...] = ()
    keep: Literal["lap", "compound", "nothing"] = "nothing"
    relation: Literal["", "finer", "coarser", "softer", "harder", "other", "between"] = ""


@dataclass(frozen=True, slots=True)
class StepFor:
    """What a step is for. ``on``, ``off``: lap types and traits of which the lap must have one, or none; ``kinds``:
    kinds of compound. What is not named, or not known of the machine, is left open."""

    on: frozenset[str]
    off: frozenset[str]
    kinds: frozenset[str]

    def fits(self, lap: Lap | None, compound: Compound | None) -> bool:
        """Whether the step is for this lap and compound."""
        is_a = {lap.id, *lap.traits} if lap else self.on
        kind = {compound.kind} if compound else self.kinds
        return all(not wanted or bool(wanted & here) for wanted, here in ((self.on, is_a), (self.kinds, kind))) and (
            lap is None or not self.off & is_a
        )


@dataclass(frozen=True, slots=True)
class Remedy(Labelled):
    """Something to do. ``minutes``: hands-on time with the test polish; ``setup_minutes``: shared by its group.

    ``fixes``: cause to a chance word. ``worse``: chance word and the minutes that would cost.
    ``to``: for a remedy that changes lap or compound, which pairs it may go to; None otherwise.
    ``steps_back``: how many steps before this one it goes back to; 0 for none.
    ``wait_minutes``: time that passes by itself afterwards (epoxy overnight), in no other figure.
    ``wait_for``: for what. ``ends``: it ends the work on the
    facet without curing it, so it has no chance to show.
    ``takes_in``: remedies that are part of doing it, not worth a try of their own after it.
    ``one_go``: remedies that are done with it in one go where both are to be tried.
    ``followed_by``: remedies done straight after it where a rule favours them too.
    ``only``: the steps that are not for every lap and compound, with what each is for.
    """

    about: str
    steps: tuple[str, ...]
    minutes: float
    setup_group: str | None
    setup_minutes: float
    fixes: Mapping[str, str]
    worse_chance: str
    worse_minutes: float
    needs: tuple[str, ...]
    cautions: tuple[str, ...]
    risks: tuple[str, ...]
    to: Target | None
    steps_back: int
    source: str
    also: tuple[str, ...] = ()
    wait_minutes: float = 0.0
    wait_for: str = ""
    ends: bool = False
    takes_in: tuple[str, ...] = ()
    one_go: tuple[str, ...] = ()
    followed_by: tuple[str, ...] = ()
    only: Mapping[str, StepFor] = field(default_factory=dict)
    beside: bool = False
    """It costs nothing and goes with any other remedy: a lighter hand, a slower lap."""
    opposite: str = ""
    """The remedy that does the contrary; "" if none."""

    def steps_on(self, lap: Lap | None, compound: Compound | None) -> tuple[str, ...]:
        """The steps with this lap and compound, None for what is not known."""
        return tuple(s for s in self.steps if s not in self.only or self.only[s].fits(lap, compound))


@dataclass(frozen=True, slots=True)
class Telling:
    """How a look is told by words of one sentence. ``named``: words for the look; ``never``: beside these it is not
    told. ``results``: result to patterns, of which one must be met: of each group of words (``off/gone end/tip``) one
    word, or one of the word list in a group's angle brackets. All count in any of their forms."""

    named: tuple[str, ...]
    never: tuple[str, ...]
    results: Mapping[str, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class Look(Labelled):
    """A cheap test. ``otherwise``: result to chance word for causes not named in ``says`` (cause to such a mapping)."""

    about: str
    steps: tuple[str, ...]
    minutes: float
    results: tuple[str, ...]
    result_labels: Mapping[str, str]
    otherwise: Mapping[str, str]
    says: Mapping[str, Mapping[str, str]]
    needs: tuple[str, ...]
    cautions: tuple[str, ...]
    source: str
    also: tuple[str, ...] = ()
    results_also: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """Result to the plain words for it, looked for only where the look itself is spoken of."""
    settles: str = ""
    """The condition that it tells: with this known the look is not offered, and after the look it is not asked."""
    told: Telling | None = None


@dataclass(frozen=True, slots=True)
class Caution(Labelled):
    """A hazard: what it is, what to do, and the standard with its limit where there is one."""

    hazard: str
    action: str
    standard: str
    source: str
    general: bool = False
    """Shown when the material is not known."""
    substance: bool = False
    """Of a substance: said of a remedy, look or rule, it counts only where stone, lap or compound may hold that."""


@dataclass(frozen=True, slots=True)
class Finding(Labelled):
    """A conclusion a rule may draw for other rules to use."""


@dataclass(frozen=True, slots=True)
class Scales:
    """Words to numbers, once and for all. ``unexplained``: P(symptom | a cause that does not explain it);
    ``background``: P(symptom | other). Both are words of ``chance``."""

    chance: Mapping[str, float]
    strength: Mapping[str, float]
    frequency: Mapping[str, float]
    background: float
    unexplained: float
    other_share: float
    """P(other) before anything is known."""
    better_factor: float
    """Likelihood of "better" under a cause the remedy fixes, against one it does not."""
    worse_factor: float
    """Likelihood of "worse" under a cause the remedy fixes, against one it does not."""
    trial_minutes: float
    """How every try ends: polish a while, wash, dry, look. Already in each remedy's ``minutes`` once loaded."""
    look_minutes: float
    """What a look has to save beyond its own minutes before it is worth the interruption."""
    begin_chance: float
    """Log odds of beginning with a remedy for each unit of ln(its chance of curing)."""
    begin_saving: float
    """The same for each ten minutes that a look saves (:data:`lapwise.engine.diagnosis.begins.MOST_SAVED` at most)."""
    begin_told: float
    """The same where a rule says that it comes first, or where it made things better before."""
    begin_order: float
    """The same for the first place in the order by belief alone, half of it for the second, and so on."""
    begin_tries: float
    """Tries on this stone, one's own or a guild's, after which habit and the order by belief count the same."""
    because: Mapping[str, str] = field(default_factory=dict)
    """Key of the scales to the sentence that says what the judgement means."""
    place: Place | None = None


@dataclass(frozen=True, slots=True)
class Found:
    """What many benches found together: a chance, or a factor on how frequent a cause is, with its range (90 %).

    ``trials``: trials or expected cases behind it, each bench counting for no more than a few.
    """

    mean: float
    low: float
    high: float
    trials: float


@dataclass(frozen=True, slots=True)
class Experience:
    """What a guild's benches found in one group of cases. ``level``: all, material, lap or compound; ``name``: which.

    ``fixes``: remedy to cause to P(fixes | cause). ``causes``: cause to the factor on its shipped frequency. ``made``:
    the quarter it was added up in. What is not known here stands in it too, and nothing asks for it.
    """

    id: str
    level: str
    name: str
    fixes: Mapping[str, Mapping[str, Found]]
    causes: Mapping[str, Found]
    benches: int
    made: str
    place: Place


@dataclass(frozen=True, slots=True)
class WordList:
    """Words of one use. ``more``: lists whose words belong to it too. ``inflected``: each counts in any of its forms.
    ``means``: words to what each stands for."""

    words: tuple[str, ...]
    more: tuple[str, ...]
    inflected: bool
    means: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Replaced:
    """An own entry in the place of a shipped one that protects. ``what``: one sentence; ``rule``: the shipped rule."""

    list: str
    id: str
    what: str
    where: str
    rule: Rule | None = None


@dataclass(frozen=True, slots=True)
class Knowledge:
    """The whole base. ``digest``: a hash over every file that went in (logged with each case)."""

    materials: Mapping[str, Material]
    laps: Mapping[str, Lap]
    compounds: Mapping[str, Compound]
    symptoms: Mapping[str, Symptom]
    causes: Mapping[str, Cause]
    remedies: Mapping[str, Remedy]
    looks: Mapping[str, Look]
    cautions: Mapping[str, Caution]
    findings: Mapping[str, Finding]
    traits: Mapping[str, str]
    """Material trait to its meaning."""
    lap_traits: Mapping[str, str]
    sources: Mapping[str, Source]
    rules: Mapping[str, Rule]
    scales: Scales
    digest: str
    conditions: Mapping[str, Mapping[str, tuple[str, ...]]] = field(default_factory=dict)
    """Key of a fact (stage and outcome too) to its values, each with the plain words for it."""
    synonyms: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """A word to those that mean the same wherever a text is read."""
    word_lists: Mapping[str, WordList] = field(default_factory=dict)
    """Words by what they do in a sentence."""
    appearances: Mapping[str, Appearance] = field(default_factory=dict)
    """Groups of the symptoms by what they look or feel like, in the order of their list."""
    replaced: tuple[Replaced, ...] = ()
    experience: Mapping[str, Experience] = field(default_factory=dict)
    """What a guild found, by group; empty without a guild's file."""
    habits: Mapping[str, Habit] = field(default_factory=dict)
    """What cutters begin with."""
    hunches: Mapping[str, Habit] = field(default_factory=dict)
    """What cutters suspect."""

    def label(self, name: str) -> str:
        """What an id is called; the id as words where nothing is known by it."""
        for kind in KINDS:
            entry = getattr(self, kind).get(name)
            if isinstance(entry, Labelled):
                return entry.label
        return plain_id(name)


KINDS = tuple(takewhile(lambda name: name != "scales", (column.name for column in fields(Knowledge))))
"""The lists of :class:`Knowledge` whose entries are found by id, in the order they are searched."""
