"""Contact: from what a setting touched to which way, and how far, to nudge the stone."""

from lapwise.engine.contact.correction import Beware, Correction, Nudge
from lapwise.engine.contact.facet_map import FacetMap, read_map
from lapwise.engine.contact.nudge import correct, findings
from lapwise.engine.contact.words import sentences

__all__ = ["Beware", "Correction", "FacetMap", "Nudge", "correct", "findings", "read_map", "sentences"]
