"""Files of temperature loggers: marks between cells, columns, units, clocks and their changes."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest

from brewlog.importing.loggers import Clock, LoggerFileError, Told, read_logger_file

LISBON = ZoneInfo("Europe/Lisbon")
NEW_YORK = ZoneInfo("America/New_York")


def read(text: str | bytes, zone: ZoneInfo = LISBON, **told):
    content = text if isinstance(text, bytes) else text.encode()
    return read_logger_file(content, zone, Told(**told))


def utc(*parts: int) -> dt.datetime:
    return dt.datetime(*parts, tzinfo=dt.UTC)


def degrees(file) -> list[str]:
    return [str(each.celsius) for each in file.samples]


def clock_times(file) -> list[str]:
    return [f"{each.at:%H:%M}" for each in file.samples]


# The table -------------------------------------------------------------------------------


@pytest.mark.parametrize("mark", [",", ";", "\t", "|"])
def test_any_mark_between_cells_is_found(mark):
    lines = (("Time", "Temperature (°C)"), ("2026-03-04 10:00", "4.5"), ("2026-03-04 10:10", "4.6"))

    file = read("\n".join(mark.join(line) for line in lines))

    assert degrees(file) == ["4.50", "4.60"]
    assert (file.time_column, file.temperature_column, file.unit) == (
        "Time", "Temperature (°C)", "C",
    )  # fmt: skip


def test_spaces_between_cells_without_headings_are_read_by_position():
    file = read("2026-03-04 10:00 4.5\n2026-03-04 10:10 4.6\n", unit="C")

    assert degrees(file) == ["4.50", "4.60"]
    assert file.time_column == "column 1 and column 2"


def test_lines_about_the_logger_stand_before_the_table():
    file = read(
        "Logger: cooler A\nSerial, 0042, firmware 1.3\n\n"
        "No.,Date,Time,Temp °C,Humidity\n"
        "1,2026-03-04,10:00:00,4.5,80\n2,2026-03-04,10:10:00,4.6,81\n"
    )

    assert clock_times(file) == ["10:00", "10:10"]
    assert degrees(file) == ["4.50", "4.60"]
    assert (file.time_column, file.temperature_column) == ("Date and Time", "Temp °C")


def test_decimal_commas_between_semicolons_are_decimals_also_with_three_places():
    file = read("Zeit;Temperatur °C\n04.03.2026 10:00;4,5\n04.03.2026 10:10;4,625\n")

    assert degrees(file) == ["4.50", "4.62"]


def test_other_encodings_of_the_degree_sign_are_read():
    file = read("Time;Temp [°F]\n2026-03-04 10:00;41\n".encode("cp1252"))

    assert (file.unit, degrees(file)) == ("F", ["5.00"])


@pytest.mark.parametrize(
    ("heading", "cell", "told", "celsius", "shown"),
    [
        ("Temperature °F", "41", {}, "5.00", "41 °F"),
        ("Fahrenheit", "41", {}, "5.00", "41 °F"),
        ("Temp(C)", "5", {}, "5.00", "5 °C"),
        ("Temp", "41 °F", {}, "5.00", "41 °F"),
        ("Temp", "41", {"unit": "F"}, "5.00", "41 °F"),
        # What the file says goes before what someone thinks.
        ("Temp °C", "41", {"unit": "F"}, "41.00", "41 °C"),
    ],
)
def test_the_unit_is_the_files_own_or_else_as_told(heading, cell, told, celsius, shown):
    (sample,) = read(f"Time,{heading}\n2026-03-04 10:00,{cell}\n", **told).samples

    assert (str(sample.celsius), sample.text) == (celsius, shown)


def test_a_file_without_a_unit_is_asked_about():
    with pytest.raises(LoggerFileError, match="whether its temperatures are in °C or in °F"):
        read("Time,Temp\n2026-03-04 10:00,4.5\n")


def test_columns_are_named_by_heading_or_by_number():
    text = "Time,Temp 1 °C,Temp 2 °C\n2026-03-04 10:00,4.5,9.5\n"

    assert degrees(read(text)) == ["4.50"]
    assert degrees(read(text, temperature_column="temp 2 °c")) == ["9.50"]
    assert degrees(read(text, temperature_column="3", time_column="1")) == ["9.50"]


@pytest.mark.parametrize(
    "text",
    ["", "\n\n", "nothing here\nat all\n", "Time,Humidity\n2026-03-04 10:00,81 %\n", "\0\0\0"],
)
def test_what_is_no_loggers_file_is_refused_in_words(text):
    with pytest.raises(LoggerFileError, match="No column of times"):
        read(text)


def test_rows_that_cannot_be_read_are_listed_and_the_rest_is_taken():
    file = read(
        "Time,Temp °C\n2026-03-04 10:00,4.5\n2026-03-04 10:10,OL\nbutton pressed,\n"
        "2026-03-04,4.4\n2026-03-04 10:20,4.6\n"
    )

    assert degrees(file) == ["4.50", "4.60"]
    assert [(each.row, each.value, each.reason) for each in file.unread] == [
        (3, "OL", "no temperature"),
        (4, "button pressed", "no date with a time of day"),
        (5, "2026-03-04", "no date with a time of day"),
    ]


def test_a_quotation_mark_that_is_not_closed_takes_no_other_row_along():
    file = read(
        'Time,Temp °C\n2026-03-04 10:00,4.5\n2026-03-04 10:10,"4.6\n2026-03-04 10:20,4.7\n'
        '"button pressed\n2026-03-04 10:30,4.8\n'
    )

    assert degrees(file) == ["4.50", "4.60", "4.70", "4.80"]
    assert [(each.row, each.value) for each in file.unread] == [(5, "button pressed")]


def test_a_cell_too_long_for_any_logger_is_listed_and_the_rest_is_taken():
    file = read(f"Time,Temp °C\n2026-03-04 10:00,4.5\n{'x' * 200_000}\n2026-03-04 10:10,4.6\n")

    assert degrees(file) == ["4.50", "4.60"]
    assert [(each.row, each.value) for each in file.unread] == [(3, "x" * 80)]


@pytest.mark.parametrize(("day_first", "month"), [(True, 4), (False, 3)])
def test_dates_in_figures_are_read_in_the_order_told(day_first, month):
    (sample,) = read("Time,°C\n3/4/2026 2:20:00 PM,4.5\n", NEW_YORK, day_first=day_first).samples

    assert sample.at.month == month
    assert f"{sample.at.astimezone(NEW_YORK):%H:%M}" == "14:20"


def test_newest_first_is_turned_round():
    file = read("Time,°C\n2026-03-04 10:20,3\n2026-03-04 10:10,2\n2026-03-04 10:00,1\n")

    assert degrees(file) == ["1.00", "2.00", "3.00"]


def test_of_several_samples_in_a_minute_the_warmest_is_kept_and_the_rest_counted():
    file = read(
        "Time,°C\n2026-03-04 10:00:10,4.1\n2026-03-04 10:00:30,4.9\n2026-03-04 10:00:50,4.2\n"
    )

    assert (degrees(file), file.repeated) == (["4.90"], 2)


# The clock -------------------------------------------------------------------------------


def hourly(*times: str) -> str:
    return "Time,°C\n" + "".join(f"{time},4.0\n" for time in times)


def test_times_are_on_the_brewerys_clock():
    file = read(hourly("2026-07-01 10:00"), NEW_YORK)

    assert file.samples[0].at == utc(2026, 7, 1, 14)


def test_a_time_with_its_offset_needs_no_clock():
    file = read(hourly("2026-07-01T10:00:00Z", "2026-07-01T12:30+02:00"), NEW_YORK)

    assert [each.at for each in file.samples] == [utc(2026, 7, 1, 10), utc(2026, 7, 1, 10, 30)]


def test_the_hour_that_comes_twice_in_autumn_is_told_apart_by_the_order_of_the_file():
    # In New York the clocks went back on 2026-11-01 at 2:00: 1:30 was 5:30 and 6:30 UTC.
    times = ("00:30", "01:00", "01:30", "01:00", "01:30", "02:00")
    file = read(hourly(*(f"2026-11-01 {time}" for time in times)), NEW_YORK)

    assert clock_times(file) == ["04:30", "05:00", "05:30", "06:00", "06:30", "07:00"]
    assert file.unread == []


def test_the_same_file_newest_first_means_the_same():
    times = ("02:00", "01:30", "01:00", "01:30", "01:00", "00:30")
    file = read(hourly(*(f"2026-11-01 {time}" for time in times)), NEW_YORK)

    assert clock_times(file) == ["04:30", "05:00", "05:30", "06:00", "06:30", "07:00"]


def test_several_samples_in_a_minute_of_that_hour_do_not_turn_the_clock():
    times = ("01:30:10", "01:30:40", "01:31:10", "01:30:10")
    file = read(hourly(*(f"2026-11-01 {time}" for time in times)), NEW_YORK)

    assert clock_times(file) == ["05:30", "05:31", "06:30"]


def test_a_time_the_clocks_skipped_in_spring_is_left_out_with_the_way_to_tell_it():
    # In New York the clocks went forward on 2026-03-08 from 2:00 to 3:00.
    file = read(hourly("2026-03-08 01:30", "2026-03-08 02:30", "2026-03-08 03:30"), NEW_YORK)

    assert clock_times(file) == ["06:30", "07:30"]
    (left_out,) = file.unread
    assert left_out.row == 3
    assert "keeps winter time all year" in left_out.reason


def test_a_logger_on_winter_time_all_year_has_every_hour_once():
    times = ("2026-03-08 01:30", "2026-03-08 02:30", "2026-03-08 03:30", "2026-07-01 10:00")
    file = read(hourly(*times), NEW_YORK, clock=Clock.STANDARD)

    assert clock_times(file) == ["06:30", "07:30", "08:30", "15:00"]
    assert file.unread == []


def test_a_logger_on_utc_is_taken_as_it_is():
    file = read(hourly("2026-07-01 10:00"), NEW_YORK, clock=Clock.UTC)

    assert file.samples[0].at == utc(2026, 7, 1, 10)


def test_the_value_is_kept_to_a_hundredth_of_a_degree():
    (sample,) = read("Time,°C\n2026-03-04 10:00,4.456\n").samples

    assert (sample.celsius, sample.text) == (Decimal("4.46"), "4.456 °C")
