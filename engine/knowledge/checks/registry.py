"""Every check of the rule base, in the order they are run and listed."""

from __future__ import annotations

from lapwise.engine.knowledge.checks.conditions import ImpossibleConditions, UnnecessaryConditions
from lapwise.engine.knowledge.checks.looks import SilentLooks
from lapwise.engine.knowledge.checks.model import Check
from lapwise.engine.knowledge.checks.overlap import CircularRules, ConflictingRules, RedundantRules, SubsumedRules
from lapwise.engine.knowledge.checks.reach import (
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
from lapwise.engine.knowledge.checks.sources import MissingReasons, MissingSources, UnknownIds, UnusedSources
from lapwise.engine.knowledge.checks.vocabulary import MissingWords

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
    UnusedCautions,
    UncarriedPairs,
    PairlessMaterials,
    UnusedTraits,
    UnusedSources,
)
