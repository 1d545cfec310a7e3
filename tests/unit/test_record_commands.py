"""The state machine over commands, shortly; 10,000 steps of it by name: tests/benchmarks/bench_record_commands.py."""

from __future__ import annotations

from hypothesis import settings
from hypothesis.stateful import run_state_machine_as_test
from tests.unit.record_commands import CommandMachine


def test_commands_in_any_order_agree_with_a_plain_list():
    run_state_machine_as_test(
        CommandMachine, settings=settings(max_examples=4, stateful_step_count=12, deadline=None, derandomize=True)
    )
