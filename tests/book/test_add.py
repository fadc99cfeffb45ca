"""Adding to a book: everything once, nothing overwritten, all or nothing."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pandas as pd
import pytest
from books import corrections, engines, reading, readings, write

import wearcast
from wearcast.book.add import add, now
from wearcast.book.correct import correct
from wearcast.book.read import read as read_book
from wearcast.book.verify import verify
from wearcast.errors import InputRefused, WrongUse
from wearcast.records.read import read as read_records
from wearcast.sources import original_files, read

SAMPLE = Path(__file__).parents[2] / "sample_data"
LINERS = Path(__file__).parents[1] / "record_sets" / "marine_liners"


def values(book: str) -> list[tuple[int, str]]:
    table = read(book).readings
    return list(zip(table["row"].tolist(), table["value_text"].tolist(), strict=True))


@pytest.mark.parametrize("source", [SAMPLE, LINERS], ids=["sample_data", "marine_liners"])
def test_a_book_gives_the_forecast_of_the_folder_it_came_from(book: str, source: Path) -> None:
    add(book, source, "A. Bell")
    from_book, from_folder = read(book), read_records(source)
    for name, table in from_folder.tables.items():
        pd.testing.assert_frame_equal(
            from_book.tables[name].drop(columns="file"), table.drop(columns="file"), check_like=True
        )
    ours, theirs = wearcast.forecast(from_book), wearcast.forecast(from_folder)
    pd.testing.assert_frame_equal(ours.table, theirs.table)


def test_every_file_is_kept_byte_for_byte(book: str, tmp_path: Path) -> None:
    folder = readings(engines(tmp_path / "in"), [{}])
    (folder / "limits.csv").write_bytes(
        b"\xef\xbb\xbf" + (folder / "limits.csv").read_bytes().replace(b"\n", b"\r\n")
    )
    add(book, folder, "A. Bell")
    assert original_files(book) == {f"0001/{name}": data for name, data in original_files(folder).items()}
    assert set(original_files(folder)) == {"engines.csv", "limits.csv", "readings.csv"}


def test_the_same_file_again_adds_nothing(book: str, tmp_path: Path) -> None:
    folder = readings(engines(tmp_path / "in"), [{}])
    first = add(book, folder, "A. Bell")
    again = add(book, folder, "B. Cole")
    assert (again.import_id, again.digest, again.rows) == (None, first.digest, {})
    assert any("readings.csv" in line and "already" in line for line in again.said)
    assert verify(book).imports == 1


def test_the_same_reading_in_another_file_adds_nothing(book: str, tmp_path: Path) -> None:
    add(book, readings(engines(tmp_path / "in"), [{}]), "A. Bell")
    same = {"value": "7980", "unit": "um", "point": "crown", "state": "as_found"}
    later = {"date": "2021-05-04", "counter_h": "30000", "point": "", "state": ""}
    other = readings(tmp_path / "again", [same, later])
    added = add(book, other, "A. Bell")
    assert added.already["readings"] == 1
    assert added.rows == {"readings": 1}
    assert values(book) == [(2, "7.980"), (3, "7.980")]


def test_two_rows_of_one_file_are_kept_as_they_came(book: str, tmp_path: Path) -> None:
    add(book, readings(engines(tmp_path / "in"), [{}, {}]), "A. Bell")
    assert len(values(book)) == 2


def test_another_value_of_the_same_reading_counts_neither_until_settled(book: str, tmp_path: Path) -> None:
    add(
        book,
        readings(engines(tmp_path / "in"), [{}, {"date": "2022-05-04", "counter_h": "36000"}]),
        "A. Bell",
    )
    added = add(book, readings(tmp_path / "other", [{"value": "7.970"}]), "A. Bell")
    assert added.differing["readings"] == 1
    made = wearcast.forecast(read(book))
    doubt = next(query for query in made.queries if query.kind == "duplicate")
    assert doubt.rows == (2, 4)
    assert doubt.came_from == "readings.csv, row 2, import 1; readings.csv, row 2, import 2"
    assert int(made.used.sum()) == 1
    correct(
        book,
        corrections(tmp_path / "c.csv", [["readings", "4", "value", "7.970", "", "withdraw"]]),
        "A. Bell",
    )
    assert int(wearcast.forecast(read(book)).used.sum()) == 2


def test_a_reading_sent_again_stays_withdrawn(book: str, tmp_path: Path) -> None:
    add(book, readings(engines(tmp_path / "in"), [{}, {"position": "4"}]), "A. Bell")
    correct(
        book,
        corrections(tmp_path / "c.csv", [["readings", "2", "value", "7.980", "", "withdraw"]]),
        "A. Bell",
    )
    again = add(book, readings(tmp_path / "again", [{}]), "A. Bell")
    assert again.import_id is None
    assert values(book) == [(3, "7.980")]


def test_a_reading_as_it_was_corrected_is_there_already(book: str, tmp_path: Path) -> None:
    add(book, readings(engines(tmp_path / "in"), [{"value": "7982"}]), "A. Bell")
    correct(
        book,
        corrections(tmp_path / "c.csv", [["readings", "2", "value", "7982", "7.982", "replace"]]),
        "A. Bell",
    )
    assert add(book, readings(tmp_path / "again", [{"value": "7.982"}]), "A. Bell").import_id is None
    assert add(book, readings(tmp_path / "once", [{"value": "7982.0"}]), "A. Bell").import_id is None


def test_one_faulty_row_adds_nothing_at_all(book: str, tmp_path: Path) -> None:
    folder = readings(engines(tmp_path / "in"), [{}, {"position": "4", "value": "7,982"}])
    with pytest.raises(InputRefused, match=r"readings.csv, row 3, value"):
        add(book, folder, "A. Bell")
    assert (verify(book).imports, verify(book).rows) == (0, 0)


def test_an_engine_neither_here_nor_in_the_book_is_refused_by_file_and_row(book: str, tmp_path: Path) -> None:
    add(book, readings(engines(tmp_path / "in"), [{}]), "A. Bell")
    with pytest.raises(InputRefused, match=r"^readings.csv, row 3, engine: found Merow Dain") as refused:
        add(book, readings(tmp_path / "new", [{"position": "5"}, {"vessel": "Merow Dain"}]), "A. Bell")
    assert [fault.kind for fault in refused.value.faults] == ["unknown_engine"]
    assert verify(book).imports == 1


def test_a_position_spelled_another_way_than_in_the_book_is_refused(book: str, tmp_path: Path) -> None:
    add(
        book,
        readings(engines(tmp_path / "in"), [{}, {"date": "2021-01-01", "counter_h": "27000"}]),
        "A. Bell",
    )
    with pytest.raises(InputRefused, match="one spelling"):
        add(
            book,
            readings(tmp_path / "new", [{"position": "03", "date": "2022-01-01", "counter_h": "33000"}]),
            "A. Bell",
        )


def test_a_decimal_comma_is_written_out_and_digits_are_kept(book: str, tmp_path: Path) -> None:
    folder = engines(tmp_path / "in")
    names, row = list(reading()), [*reading(value="7,970").values()]
    (folder / "readings.csv").write_text(";".join(names) + "\n" + ";".join(row) + "\n", encoding="utf-8")
    add(book, folder, "A. Bell")
    assert values(book) == [(2, "7.970")]


def test_engines_and_limits_are_stated_anew_and_the_old_statement_is_kept(book: str, tmp_path: Path) -> None:
    folder = readings(engines(tmp_path / "in", ("Merrow Dain", "Tarn Ivelle")), [{}])
    add(book, folder, "A. Bell")
    later = engines(tmp_path / "later")
    (later / "limits.csv").unlink()
    table = (later / "engines.csv").read_text(encoding="utf-8").replace("6000", "5200")
    (later / "engines.csv").write_text(table, encoding="utf-8")
    added = add(book, later, "A. Bell")
    assert added.rows == {"engines": 1}
    assert any("stated anew" in line and "Merrow Dain ME" in line for line in added.said)
    held = read(book).engines
    assert held["vessel"].tolist() == ["Merrow Dain", "Tarn Ivelle"]
    assert held["hours_per_year"].tolist() == [5200, 6000]
    again = add(book, folder, "A. Bell")
    assert any("stated anew" in line and "Merrow Dain ME" in line for line in again.said)
    assert read(book).engines["hours_per_year"].tolist() == [6000, 6000]


def test_an_event_told_with_other_facts_is_refused_until_the_first_is_corrected(
    book: str, tmp_path: Path
) -> None:
    header = ["vessel", "engine", "bearing", "position", "half", "date", "counter_h", "event", "shell_size"]
    event = ["Merrow Dain", "ME", "main", "3", "lower", "2019-03-04", "18000", "renewal", "standard"]
    folder = readings(engines(tmp_path / "in"), [{}])
    write(folder / "events.csv", [header, event])
    add(book, folder, "A. Bell")
    other = tmp_path / "other"
    other.mkdir()
    write(other / "events.csv", [header, [*event[:-1], "U25"]])
    with pytest.raises(
        InputRefused, match=r"events.csv, row 2, event: this renewal stands in .*, events id 2"
    ):
        add(book, other, "A. Bell")
    write(other / "events.csv", [header, [*event[:6], "18000.0", *event[7:]]])
    assert add(book, other, "A. Bell").import_id is None, "18000.0 says what 18000 says"


def test_corrections_in_a_folder_are_kept_by_the_ids_of_its_rows(book: str, tmp_path: Path) -> None:
    add(book, readings(engines(tmp_path / "in"), [{}]), "A. Bell")
    folder = readings(tmp_path / "new", [{"value": "x", "position": "4"}, {"position": "5"}])
    corrections(folder / "corrections.csv", [["readings", "2", "value", "x", "7.979", "replace"]])
    add(book, folder, "A. Bell")
    assert values(book) == [(2, "7.980"), (3, "7.979"), (4, "7.980")]
    assert "x -> 7.979" in read(book).readings["old_text"].iloc[1]
    corrections(folder / "corrections.csv", [["readings", "2", "value", "x", "7.979", "replace"],
                                             ["readings", "3", "value", "7.980", "", "withdraw"]])  # fmt: skip
    added = add(book, folder, "A. Bell")
    assert (added.rows, added.already["corrections"]) == ({"corrections": 1}, 1)
    assert values(book) == [(2, "7.980"), (3, "7.979")]


def test_text_of_every_kind_comes_back_as_it_was(book: str, tmp_path: Path) -> None:
    odd = {
        "vessel": "Mérrow'; DROP TABLE readings; --", "remark": 'ø "quoted", Ω\U0001f6a2 \\ % _', "measured_by": "",
        "instrument": "=1+1", "my own; column": "NULL", "second": "", "row_note": "Å",
    }  # fmt: skip
    folder = readings(
        engines(tmp_path / "in", (odd["vessel"],)), [odd, odd | {"position": "4", "second": "x"}]
    )
    add(book, folder, "O'Neill; DELETE FROM imports")
    from_book, from_folder = read(book).readings, read_records(folder).readings
    pd.testing.assert_frame_equal(
        from_book.drop(columns="file"), from_folder.drop(columns="file"), check_like=True
    )
    assert verify(book).whole


def test_wrong_use_is_said(book: str, tmp_path: Path) -> None:
    folder = readings(engines(tmp_path / "in"), [{}])
    with pytest.raises(WrongUse, match="--by is empty"):
        add(book, folder, "  ")
    with pytest.raises(WrongUse, match="Export it"):
        add(book, tmp_path / "other.book", "A. Bell")
    with pytest.raises(WrongUse, match="no such record book"):
        add(tmp_path / "none.book", folder, "A. Bell")


def test_a_workbook_keeps_its_sheet_and_row(book: str, tmp_path: Path) -> None:
    import openpyxl

    folder = readings(engines(tmp_path / "in"), [{}, {"position": "4"}])
    workbook = openpyxl.Workbook()
    for name in ("readings", "engines", "limits"):
        sheet = workbook.create_sheet(name)
        for line in (folder / f"{name}.csv").read_text(encoding="utf-8").splitlines():
            sheet.append(
                line.split(",")
                if name != "limits"
                else line.replace('"', "").replace("6, r", "6 r").split(",")
            )
    workbook.save(tmp_path / "fleet.xlsx")
    add(book, tmp_path / "fleet.xlsx", "A. Bell")
    assert read(book).origins["readings"].words([3]) == "fleet.xlsx, sheet readings, row 3"
    assert original_files(book) == {"0001/fleet.xlsx": (tmp_path / "fleet.xlsx").read_bytes()}


def test_a_clock_that_went_back_hides_nothing_that_was_known(
    book: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for number, moment in enumerate(
        ("1700000000", "1600000000", "1710000000")
    ):  # 2023-11-14, 2020-09-13, 2024-03-09
        monkeypatch.setenv("SOURCE_DATE_EPOCH", moment)
        # as earlier versions took imports down
        monkeypatch.setattr("wearcast.book.add.after", lambda _: (now(), []))
        folder = readings(tmp_path / str(number), [{"position": str(number + 1)}])
        add(book, engines(folder) if not number else folder, "A. Bell")
    held = read_book(book, as_known_on=date(2020, 9, 13))
    assert held.readings["position"].tolist() == ["1", "2"]


def test_a_reading_repeated_many_times_in_one_file_is_met_once(book: str, tmp_path: Path) -> None:
    rows = [{"remark": str(number)} for number in range(1500)]
    assert add(book, readings(engines(tmp_path / "1"), rows), "A. Bell").rows["readings"] == 1500
    again = add(book, readings(tmp_path / "2", [{"remark": "x"}, *rows]), "A. Bell")
    assert (again.rows["readings"], again.already["readings"]) == (1, 1500)  # the remark is another telling
