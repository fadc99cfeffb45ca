"""The list of deliberate faults fits the code: each can be put in, at one place, and names tests that are there."""

from __future__ import annotations

import ast

import pytest
from planted_faults import FAULTS, ROOT


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.what)
def test_each_fault_can_be_put_in_at_one_place(fault) -> None:
    text = (ROOT / "wearcast" / fault.file).read_text(encoding="utf-8")
    assert text.count(fault.right) == 1
    ast.parse(text.replace(fault.right, fault.wrong))
    assert all((ROOT / test).exists() for test in fault.tests if test.startswith("tests/"))
