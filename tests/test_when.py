"""Times as people and sheets give them, also where the clocks change.

The clock changes are those of the IANA time zone database.
"""

from __future__ import annotations

import datetime as dt

import pytest
import time_machine
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st

from brewlog.when import Precision, When, WhenError, dates_in, now, on_day, parse_when


@pytest.fixture
def clock_of():
    """Call it with a zone's name to work there for the rest of the test."""
    yield timezone.activate
    timezone.deactivate()


def utc(year, month, day, hour=0, minute=0):
    return dt.datetime(year, month, day, hour, minute, tzinfo=dt.UTC)


def day(year, month, number):
    return on_day(dt.date(year, month, number))


@pytest.mark.parametrize(
    ("typed", "at"),
    [
        ("2026-03-04 14:20", utc(2026, 3, 4, 14, 20)),
        ("2026-03-04T14:20", utc(2026, 3, 4, 14, 20)),
        ("2026-03-04 14:20:59", utc(2026, 3, 4, 14, 20)),
        ("2026-03-04T14:20:59.123456", utc(2026, 3, 4, 14, 20)),
        (" 2026-03-04   14.20 ", utc(2026, 3, 4, 14, 20)),
        ("2026-03-04 14h20", utc(2026, 3, 4, 14, 20)),
        ("2026-03-04 2:20 pm", utc(2026, 3, 4, 14, 20)),
        ("2026-03-04 2 PM", utc(2026, 3, 4, 14)),
        ("2026-03-04 1:05 pm", utc(2026, 3, 4, 13, 5)),
        ("2026-03-04 12:00 am", utc(2026, 3, 4)),
        ("2026-03-04 12:00 pm", utc(2026, 3, 4, 12)),
        ("2026-03-04, 14:20", utc(2026, 3, 4, 14, 20)),
        ("4/3/2026 14:20", utc(2026, 3, 4, 14, 20)),
        ("04.03.2026 9:05", utc(2026, 3, 4, 9, 5)),
        ("2026-03-04 14:20Z", utc(2026, 3, 4, 14, 20)),
        ("2026-03-04 14:20+02:00", utc(2026, 3, 4, 12, 20)),
        ("2026-03-04 14:20 -0500", utc(2026, 3, 4, 19, 20)),
        ("2026-03-04T9:20:30-05", utc(2026, 3, 4, 14, 20)),
        ("46085.5", utc(2026, 3, 4, 12)),
        ("46085.5972222", utc(2026, 3, 4, 14, 20)),
    ],
)
def test_a_time_is_read_to_the_minute(clock_of, typed, at):
    clock_of("Europe/Lisbon")  # an hour at UTC in March
    assert parse_when(typed) == When(at, Precision.MINUTE)


# Sheets count days from 1899-12-30: 1 January 1900 is day 2, 1 January 2000 is day 36526.
@pytest.mark.parametrize(
    "typed", ["2026-03-04", "4/3/2026", "04-03-2026", "4.3.2026", "2026/3/4", "46085", "46085.0"]
)
def test_a_date_alone_is_known_to_the_day(clock_of, typed):
    clock_of("Europe/Lisbon")
    assert parse_when(typed) == When(utc(2026, 3, 4), Precision.DAY)


@pytest.mark.parametrize("typed", ["1954-01-01", "2119-12-31"])
def test_the_first_and_the_last_day_that_is_no_slip_are_read(typed):
    assert parse_when(typed) == on_day(dt.date.fromisoformat(typed))


def test_the_brewerys_date_order_decides():
    assert parse_when("4/3/2026", day_first=True) == day(2026, 3, 4)
    assert parse_when("4/3/2026", day_first=False) == day(2026, 4, 3)
    assert parse_when("2026-04-03", day_first=True) == parse_when("2026-04-03", day_first=False)


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("", "not a date"),
        ("yesterday", "not a date"),
        ("B26147A", "not a date"),
        ("12345", "not a date"),
        ("4/3-2026", "not a date"),
        ("\u0662026-03-04", "not a date"),
        ("4/3/26", "no four-figure year"),
        ("0026-03-04", "in the year 26"),
        ("1953-12-31", "in the year 1953"),
        ("2120-01-01", "in the year 2120"),
        ("9999-12-31", "in the year 9999"),
        ("31/4/2026", r"not a day in the calendar \(read as day, month, year\)"),
        ("2026-02-30", "not a day in the calendar"),
        ("2026-03-04 25:00", "not a time of day"),
        ("2026-03-04 14", "not a time of day"),
        ("2026-03-04 13:00 pm", "not a time of day"),
        ("2026-03-04 0:30 am", "not a time of day"),
        ("2026-03-04 noon", "not a time of day"),
        ("2026-03-04 14:20+99:00", "offset that cannot be read"),
    ],
)
def test_what_cannot_be_read_is_refused_with_what_to_write(typed, words):
    with pytest.raises(WhenError, match=words) as refusal:
        parse_when(typed)
    assert "rite it like" in str(refusal.value)


def test_the_wrong_date_order_is_named():
    with pytest.raises(WhenError, match="read as month, day, year"):
        parse_when("31/3/2026", day_first=False)


def test_now_and_today_are_the_brewerys(clock_of):
    clock_of("Pacific/Auckland")
    with time_machine.travel(utc(2026, 3, 4, 13, 20) + dt.timedelta(seconds=40), tick=False):
        assert now() == parse_when("Now") == When(utc(2026, 3, 4, 13, 20))
        assert parse_when("today") == on_day(dt.date(2026, 3, 5))


@pytest.mark.parametrize(
    ("zone", "skipped", "first_after"),
    [
        ("Europe/Lisbon", "2026-03-29 01:30", utc(2026, 3, 29, 1)),
        ("America/New_York", "2026-03-08 02:30", utc(2026, 3, 8, 7)),
        ("America/Santiago", "2026-09-06 00:30", utc(2026, 9, 6, 4)),
    ],
)
def test_an_hour_the_clocks_skipped_is_asked_about(clock_of, zone, skipped, first_after):
    clock_of(zone)
    with pytest.raises(WhenError, match="did not happen: the clocks went forward"):
        parse_when(skipped)
    after = timezone.localtime(first_after)
    assert parse_when(f"{after:%Y-%m-%d %H:%M}").at == first_after


@pytest.mark.parametrize(
    ("zone", "twice", "first", "second"),
    [
        ("Europe/Lisbon", "2026-10-25 01:30", utc(2026, 10, 25, 0, 30), utc(2026, 10, 25, 1, 30)),
        ("America/New_York", "2026-11-01 01:30", utc(2026, 11, 1, 5, 30), utc(2026, 11, 1, 6, 30)),
        ("America/Santiago", "2026-04-04 23:30", utc(2026, 4, 5, 2, 30), utc(2026, 4, 5, 3, 30)),
    ],
)
def test_an_hour_that_happened_twice_is_asked_about(clock_of, zone, twice, first, second):
    clock_of(zone)
    with pytest.raises(WhenError, match="happened twice") as refusal:
        parse_when(twice)
    offered = [word.strip(",.") for word in str(refusal.value).split() if "T" in word]
    assert [parse_when(word).at for word in offered] == [first, second]


# Midnight is skipped in Chile and Lebanon; Cuba's clock shows it twice.
@pytest.mark.parametrize(
    ("zone", "date", "begins", "ends"),
    [
        ("Europe/Lisbon", dt.date(2026, 3, 29), utc(2026, 3, 29), utc(2026, 3, 29, 23)),
        ("Europe/Lisbon", dt.date(2026, 10, 25), utc(2026, 10, 24, 23), utc(2026, 10, 26)),
        ("America/New_York", dt.date(2026, 3, 8), utc(2026, 3, 8, 5), utc(2026, 3, 9, 4)),
        ("America/Santiago", dt.date(2026, 9, 6), utc(2026, 9, 6, 4), utc(2026, 9, 7, 3)),
        ("America/Santiago", dt.date(2026, 9, 5), utc(2026, 9, 5, 4), utc(2026, 9, 6, 4)),
        ("Asia/Beirut", dt.date(2026, 3, 29), utc(2026, 3, 28, 22), utc(2026, 3, 29, 21)),
        ("America/Havana", dt.date(2026, 11, 1), utc(2026, 11, 1, 4), utc(2026, 11, 2, 5)),
    ],
)
def test_a_day_lasts_from_its_first_moment_to_the_next_days(clock_of, zone, date, begins, ends):
    clock_of(zone)
    whole = on_day(date)
    assert (whole.at, whole.ends) == (begins, ends)
    assert str(whole) == date.isoformat()


def test_a_time_is_written_on_the_brewerys_clock(clock_of):
    clock_of("America/New_York")
    assert str(When(utc(2026, 7, 4, 3, 20))) == "2026-07-03 23:20"


def test_a_minute_is_before_only_what_is_later():
    nine, ten = When(utc(2026, 3, 4, 9)), When(utc(2026, 3, 4, 10))
    assert nine.provably_before(ten)
    assert not ten.provably_before(nine)
    assert not nine.provably_before(nine)


def test_a_day_is_before_nothing_on_it():
    nine = When(utc(2026, 3, 4, 9))
    assert not day(2026, 3, 4).provably_before(nine)
    assert not nine.provably_before(day(2026, 3, 4))
    assert not day(2026, 3, 4).provably_before(day(2026, 3, 4))


def test_a_day_is_before_the_first_minute_of_the_next():
    assert day(2026, 3, 4).provably_before(When(utc(2026, 3, 5)))
    assert day(2026, 3, 4).provably_before(day(2026, 3, 5))
    assert When(utc(2026, 3, 4, 23, 59)).provably_before(day(2026, 3, 5))


def test_the_brewerys_day_decides_what_is_before(clock_of):
    late_evening = When(utc(2026, 3, 5, 1))  # 20:00 on the 4th in New York
    clock_of("America/New_York")
    assert not day(2026, 3, 4).provably_before(late_evening)
    clock_of("Europe/Lisbon")
    assert day(2026, 3, 4).provably_before(late_evening)


WHENS = st.builds(
    When,
    st.datetimes(dt.datetime(2026, 1, 1), dt.datetime(2026, 1, 9), timezones=st.just(dt.UTC)),
    st.sampled_from(Precision),
)


@given(WHENS, WHENS, WHENS)
def test_before_is_an_order(one, two, three):
    assert not (one.provably_before(two) and two.provably_before(one))
    if one.provably_before(two) and two.provably_before(three):
        assert one.provably_before(three)


@given(
    st.datetimes(dt.datetime(1960, 1, 1), dt.datetime(2100, 1, 1)),
    st.sampled_from(["Europe/Lisbon", "America/New_York", "America/Santiago", "Asia/Kathmandu"]),
)
def test_what_is_written_reads_back_or_is_asked_about(naive, zone):
    with timezone.override(zone):
        try:
            found = parse_when(f"{naive:%Y-%m-%d %H:%M}")
        except WhenError as refusal:
            assert "clocks went" in str(refusal)  # noqa: PT017
            return
        assert parse_when(str(found)) == found
        assert parse_when(str(on_day(naive.date()))) == on_day(naive.date())


@pytest.mark.parametrize(
    ("text", "day_first", "month_first"),
    [
        ("due by 2026-03-04 14:20.", "due by 4 Mar 2026 14:20.", "due by Mar 4, 2026 14:20."),
        ("3.4 on 2026-03-04: in time", "3.4 on 4 Mar 2026: in time", "3.4 on Mar 4, 2026: in time"),
        ("(2026-12-31); 2027-01-01", "(31 Dec 2026); 1 Jan 2027", "(Dec 31, 2026); Jan 1, 2027"),
        ("2026-03-04 14:20, it", "4 Mar 2026 14:20, it", "Mar 4, 2026 14:20, it"),
    ],
)
def test_the_dates_of_a_sentence_are_in_the_readers_order(text, day_first, month_first):
    assert dates_in(text, day_first=True) == day_first
    assert dates_in(text, day_first=False) == month_first
    assert dates_in(month_first, day_first=False) == month_first


@pytest.mark.parametrize(
    "text",
    [
        "'2026-03-04' is no lot.",
        "Write it like 2026-03-04 or 2026-03-04 14:20.",
        "A new one is written like: 4.01 lot BF-3321 until 2026-12-31.",
        "2026-03-04: pH 4.6",
        "K-2026-03-04 and 2026-03-04-A",
        "2026-03-04T14:20 or 2026-03-29 02:30+01:00",
        "2026-13-04",
        "no-2026-03-04.pdf",
    ],
)
def test_what_only_looks_like_a_date_or_is_to_be_typed_stays_as_it_is(text):
    assert dates_in(text, day_first=True) == text
