"""What changed between two visits: a pack of the first against the records, or a pack, of the second."""

from __future__ import annotations

from dataclasses import replace

import pytest
from typer.testing import CliRunner

from wearcast.cli.main import app
from wearcast.decide.moved import moved
from wearcast.evidence.asked import NotAPack
from wearcast.evidence.given import given_by
from wearcast.evidence.pack import pack
from wearcast.evidence.packed_records import packed_records


@pytest.fixture
def later(tmp_path, write_folder, tables):
    """The same fleet, its limit eased under the same document since."""
    tables["limits"] = [{"limit": "7.940"}]
    return write_folder(tmp_path / "later", **tables)


def test_the_records_of_a_pack_are_those_that_were_given(packed, fleet, asked) -> None:
    from wearcast.sources import read

    found = packed_records(packed)
    assert found.asked.key == asked.key
    assert (
        found.records.readings["value_text"].tolist()
        == read(fleet, asked.run_date).readings["value_text"].tolist()
    )
    assert {key[:2] for key in found.stated} == {("Alder", "2")}


def test_an_eased_limit_is_what_moved_the_dates_since_the_pack(packed, later, asked) -> None:
    from wearcast.sources import read

    then = packed_records(packed)
    result = moved(then.records, read(later, asked.run_date), then.settings, stated=then.stated)
    mine = [one for one in result.moves if one.key[:2] == asked.key]
    assert len(mine) == 3
    for one in mine:
        assert one.then == then.stated[one.key]
        assert one.days > 0
        assert one.steps[0] == ("limits or windows", one.days), "and nothing else moved it"


def test_two_packs_are_compared_on_the_command_line(packed, later, asked, tmp_path) -> None:
    second = tmp_path / "second.zip"
    pack(given_by(later), replace(asked, survey="next survey"), second)
    done = CliRunner().invoke(app, ["moved", str(second), "--from", str(packed), "--all"])
    assert done.exit_code == 0, done.output
    told = " ".join(done.output.split())
    assert "3 of 3 rows moved." in told
    assert told.count("Days by cause: limits or windows +") == 3


def test_a_pack_whose_files_were_changed_is_not_compared(opened, closed, change) -> None:
    change(opened / "data" / "forecast.csv", "Alder,2,Hexa,main,1,", "Alder,2,Hexa,main,9,")
    with pytest.raises(NotAPack, match=r"data/forecast\.csv was changed"):
        packed_records(closed(manifests=False))
