"""Every check of the rule base, in the order they are run and listed."""

from __future__ import annotations

from lapwise.engine.checks.conditions import ImpossibleConditions, UnnecessaryConditions
from lapwise.engine.checks.experience import UnknownExperience
from lapwise.engine.checks.looks import SilentLooks
from lapwise.engine.checks.model import Check
from lapwise.engine.checks.overlap import CircularRules, ConflictingRules, RedundantRules, SubsumedRules
from lapwise.engine.checks.reach import (
    DeadEnds,
    IdleRemedies,
    PairlessMaterials,
    UncarriedPairs,
    UncuredCauses,
    UnexplainedSymptoms,
    UnreachedCauses,
    UnusedCautions,
    UnusedTraits,
)
from lapwise.engine.checks.sources import MissingReasons, MissingSources, UnknownIds, UnusedSources
from lapwise.engine.checks.twice import FindingsCountedTwice, LooksCountedTwice, RemediesCountedTwice
from lapwise.engine.checks.vocabulary import MissingWords

CHECKS: tuple[type[Check], ...] = (
    UnknownIds,
    MissingWords,
    MissingSources,
    MissingReasons,
    RedundantRules,
    SubsumedRules,
    ConflictingRules,
    CircularRules,
    ImpossibleConditions,
    UnnecessaryConditions,
    UnreachedCauses,
    UncuredCauses,
    IdleRemedies,
    UnexplainedSymptoms,
    DeadEnds,
    SilentLooks,
    LooksCountedTwice,
    RemediesCountedTwice,
    FindingsCountedTwice,
    UnusedCautions,
    UncarriedPairs,
    PairlessMaterials,
    UnusedTraits,
    UnusedSources,
    UnknownExperience,
)
