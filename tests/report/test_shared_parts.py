"""What figures share is written once and can be put back."""

from __future__ import annotations

import json
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from wearcast.report.shared_parts import PART, share_parts

LEAVES = st.none() | st.booleans() | st.integers(-9, 9) | st.text("ab", max_size=30)
VALUES = st.recursive(
    LEAVES,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text("xy", max_size=2), inner, max_size=4),
    max_leaves=20,
)


def put_back(value: Any, parts: list[Any]) -> Any:
    if isinstance(value, dict):
        return (
            put_back(parts[value[PART]], parts)
            if PART in value
            else {k: put_back(v, parts) for k, v in value.items()}
        )
    return [put_back(inner, parts) for inner in value] if isinstance(value, list) else value


@given(st.dictionaries(st.text("ab", max_size=3), VALUES, max_size=5), VALUES)
def test_put_back_gives_the_same(content: dict[str, Any], twice: Any) -> None:
    content = {**content, "one": [twice], "other": {"in": twice}}
    short, parts = share_parts(content)
    assert json.dumps(put_back(short, parts)) == json.dumps(content)


def test_what_is_said_often_is_written_once() -> None:
    axis = {"title": {"text": "Total running hours"}, "ticks": "outside"}
    short, parts = share_parts({str(k): {"x": axis, "y": [k]} for k in range(50)})
    assert parts == [axis]
    assert short["7"] == {"x": {PART: 0}, "y": [7]}


def test_a_part_points_only_to_parts_before_it() -> None:
    inner = {"family": "a long enough name of a font"}
    outer = {"font": inner, "size": 12}
    short, parts = share_parts({"a": [outer], "b": [outer, {"x": outer}], "c": inner})
    assert parts == [inner, {"font": {PART: 0}, "size": 12}]
    assert put_back(short, parts)["b"] == [outer, {"x": outer}]
