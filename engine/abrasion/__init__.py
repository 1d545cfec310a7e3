"""Grit sizes, depth of damage, minutes to remove it: what the step before left and what it takes to be rid of it."""

from __future__ import annotations

from lapwise.engine.abrasion.damage import damage_depth
from lapwise.engine.abrasion.judgement import Judgement, Verdict, judge, verdict
from lapwise.engine.abrasion.ladder import LadderWarning, Rung, check_ladder
from lapwise.engine.abrasion.preston import minutes_to_remove
from lapwise.engine.abrasion.price import Price, price_of, stays_big_enough, step_back_price

__all__ = [
    "Judgement",
    "LadderWarning",
    "Price",
    "Rung",
    "Verdict",
    "check_ladder",
    "damage_depth",
    "judge",
    "minutes_to_remove",
    "price_of",
    "stays_big_enough",
    "step_back_price",
    "verdict",
]
