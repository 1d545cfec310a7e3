"""The state machine over screens and commands together, shortly; long by name: bench_record_commands.py --windows."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis.stateful import run_state_machine_as_test
from tests.tui.record_windows import WindowMachine

pytestmark = pytest.mark.e2e


def test_screens_and_commands_in_any_order_agree_with_a_plain_list() -> None:
    few = settings(
        max_examples=1,
        stateful_step_count=12,
        deadline=None,
        derandomize=True,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    run_state_machine_as_test(WindowMachine, settings=few)
