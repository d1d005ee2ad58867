"""Gaps and excursions of a logger, what of it is recorded, and what stood there."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest

from brewlog.domain import lots
from brewlog.importing.loggers import Sample, Told, read_logger_file
from brewlog.models import Checkpoint
from brewlog.recording import Refused
from brewlog.when import When
from compliance.decision import Operator
from compliance.domain import loggers
from compliance.domain.loggers import Ceiling, ceiling_of, own_ceiling, record_samples, see, thin
from tests import factories
from tests.compliance.assessment import helpers

pytestmark = pytest.mark.django_db

START = dt.datetime(2026, 3, 10, 6, 0, tzinfo=dt.UTC)
AT_MOST_5 = own_ceiling(Decimal(5))


def row(*degrees: str | None, step: int = 10, start: dt.datetime = START) -> list[Sample]:
    """One sample each step of minutes; None where the logger missed one."""
    return [
        Sample(start + dt.timedelta(minutes=step * place), Decimal(each), f"{each} °C")
        for place, each in enumerate(degrees)
        if each is not None
    ]


def minute(number: int) -> dt.datetime:
    return START + dt.timedelta(minutes=number)


def record(actor, place, samples, every=30, ceiling=AT_MOST_5, **changes):
    details = {"file_name": "cooler.csv", "every_minutes": every, "ceiling": ceiling}
    return record_samples(actor=actor, location=place, samples=samples, **{**details, **changes})


def values(place) -> list[str]:
    rows = Checkpoint.objects.live().filter(location=place).order_by("happened_at")
    return list(rows.values_list("value_text", flat=True))


class TestSeeing:
    def test_even_samples_have_no_gap(self):
        seen = see(row("4", "4", "4", "4"), AT_MOST_5)

        assert (seen.step, seen.gaps, seen.excursions) == (dt.timedelta(minutes=10), (), ())

    @pytest.mark.parametrize(("late", "is_gap"), [(10, False), (15, False), (16, True), (20, True)])
    def test_more_than_half_a_step_late_is_a_gap(self, late, is_gap):
        samples = row("4", "4", "4", "4")
        samples += row("4", start=samples[-1].at + dt.timedelta(minutes=late))

        gaps = see(samples, None).gaps

        assert [gap.minutes for gap in gaps] == ([late] if is_gap else [])

    def test_an_excursion_lasts_from_the_first_above_to_the_first_back(self):
        (found,) = see(row("4", "6", "9.5", "7", "5", "4"), AT_MOST_5).excursions

        assert (found.since, found.until, found.minutes) == (minute(10), minute(40), 30)
        assert found.highest.text == "9.5 °C"
        assert (found.is_open, found.has_gap) == (False, False)

    @pytest.mark.parametrize(("operator", "number"), [(Operator.AT_MOST, 0), (Operator.BELOW, 1)])
    def test_a_value_on_the_line_is_as_the_sign_says(self, operator, number):
        ceiling = Ceiling(operator, Decimal(5), "a test")

        assert len(see(row("4", "5", "4"), ceiling).excursions) == number

    def test_one_that_has_not_come_back_is_open_to_the_last_sample(self):
        (found,) = see(row("4", "6", "7"), AT_MOST_5).excursions

        assert (found.until, found.minutes, found.is_open) == (minute(20), 10, True)

    def test_over_a_gap_between_two_above_it_went_on_and_is_marked(self):
        (found,) = see(row("4", "4", "4", "6", None, None, "7", "4"), AT_MOST_5).excursions

        assert (found.minutes, found.has_gap) == (40, True)

    def test_two_warm_times_are_two_excursions(self):
        assert len(see(row("6", "4", "6", "4"), AT_MOST_5).excursions) == 2

    def test_one_sample_alone_has_no_step_and_can_be_warm(self):
        seen = see(row("6"), AT_MOST_5)

        assert (seen.step, [each.minutes for each in seen.excursions]) == (None, [0])

    def test_the_autumn_hour_is_no_gap_and_the_spring_hour_none_either(self):
        # New York: back on 2026-11-01, forward on 2026-03-08, each at 2:00.
        zone = ZoneInfo("America/New_York")
        autumn = ("00:30", "01:00", "01:30", "01:00", "01:30", "02:00", "02:30")
        spring = ("00:30", "01:00", "01:30", "03:00", "03:30")
        for day, times in (("2026-11-01", autumn), ("2026-03-08", spring)):
            text = "Time,°C\n" + "".join(f"{day} {time},4\n" for time in times)
            file = read_logger_file(text.encode(), zone, Told())
            assert see(file.samples, None).gaps == (), day

    def test_a_clock_that_was_not_set_back_shows_as_a_gap_of_an_hour(self):
        zone = ZoneInfo("America/New_York")
        times = ("00:30", "01:00", "01:30", "02:00", "02:30")
        text = "Time,°C\n" + "".join(f"2026-11-01 {time},4\n" for time in times)

        file = read_logger_file(text.encode(), zone, Told())

        assert [gap.minutes for gap in see(file.samples, None).gaps] == [90]


class TestThinning:
    def test_one_of_each_so_many_minutes_is_kept(self):
        found = thin(see(row(*"444444"), AT_MOST_5), 30)

        assert [each.at for each in found.keep] == [minute(0), minute(30)]
        assert (found.left_out, found.already) == (4, 0)

    def test_the_beginning_the_warmest_and_the_end_of_an_excursion_are_kept_besides(self):
        samples = row("4", "6", "7", "8", "6.5", "5", "4", "4", "4")

        found = thin(see(samples, AT_MOST_5), 60)

        assert [each.text for each in found.keep] == ["4 °C", "6 °C", "8 °C", "5 °C", "4 °C"]
        assert found.left_out == 4

    def test_without_a_limit_only_the_even_ones_are_kept(self):
        assert len(thin(see(row("4", "9", "4"), None), 60).keep) == 1


class TestRecording:
    def test_readings_are_of_the_place_with_the_logger_and_the_file(self, operator):
        place = factories.location(operator, is_cold=True)
        logger = factories.instrument(operator, kind="thermometer")

        kept = record(operator, place, row("4", "6", "4"), every=1, instrument=logger)

        (first, *_) = kept.readings
        assert len(kept.readings) == 3
        assert (first.location, first.instrument, first.measurand) == (place, logger, "temperature")
        assert (first.happened_at, first.note) == (minute(0), "logger file cooler.csv")
        assert first.history.get().history_change_reason == ("read from the logger file cooler.csv")

    def test_the_same_file_again_adds_nothing(self, operator):
        place = factories.location(operator, is_cold=True)
        samples = row("4", "6", "8", "6", "4", "4", "4", "4")
        first = record(operator, place, samples)

        again = record(operator, place, samples)

        # One at 0, 30 and 60 minutes; at 10, 20 and 40 the excursion.
        assert (len(first.readings), first.left_out) == (6, 2)
        assert (again.readings, again.already, again.left_out) == ([], 6, 2)
        assert len(values(place)) == 6

    def test_a_longer_file_adds_only_what_is_new(self, operator):
        place = factories.location(operator, is_cold=True)
        record(operator, place, row(*"44444"))

        # The same rows from the second on, and three more.
        record(operator, place, row(*"4444444", start=minute(10)))

        rows = Checkpoint.objects.filter(location=place).order_by("happened_at")
        assert [each.happened_at for each in rows] == [minute(0), minute(30), minute(60)]

    def test_what_was_struck_out_does_not_come_back(self, operator):
        place = factories.location(operator, is_cold=True)
        samples = row("4", "4")
        (reading,) = record(operator, place, samples).readings
        lots.void(actor=operator, record=reading, reason="the door stood open")

        assert record(operator, place, samples).readings == []

    def test_two_loggers_in_one_place_do_not_hide_each_other(self, operator):
        place = factories.location(operator, is_cold=True)
        above, below = (factories.instrument(operator, kind="thermometer") for _ in range(2))

        record(operator, place, row("4"), instrument=above)
        record(operator, place, row("4.5"), instrument=below)

        assert values(place) == ["4 °C", "4.5 °C"]

    def test_an_instrument_that_reads_no_temperature_is_refused(self, operator):
        place = factories.location(operator, is_cold=True)
        with pytest.raises(Refused, match="does not read temperature"):
            record(
                operator, place, row("4"), instrument=factories.instrument(operator, kind="scale")
            )

        assert values(place) == []

    def test_fahrenheit_is_kept_as_it_was_and_counts_in_celsius(self, operator):
        place = factories.location(operator, is_cold=True)
        samples = [Sample(START, Decimal("5.00"), "41 °F")]

        (reading,) = record(operator, place, samples).readings

        assert (reading.value_text, reading.value) == ("41 °F", Decimal("5.0000"))


class TestTheLimit:
    def test_it_is_the_tightest_that_binds_and_only_for_cold_places(self, manager):
        for value in ("7", "5"):
            helpers.limit(manager, "place_temperature", operator="<=", value=value)
        cold = factories.location(manager, is_cold=True)

        assert ceiling_of(cold).words == "≤ 5 °C"
        assert ceiling_of(factories.location(manager, is_cold=False)) is None

    def test_without_a_binding_limit_there_is_none(self, manager):
        assert ceiling_of(factories.location(manager, is_cold=True)) is None


class TestWhatStoodThere:
    @pytest.fixture
    def cooler(self, manager):
        return factories.location(manager, "Cooler A", is_cold=True)

    def test_each_excursion_tells_what_stood_in_it_and_how_long(self, manager, cooler):
        early = factories.bottles(manager, 50, when=factories.at(1))
        late = factories.bottles(manager, 50, when=factories.at(1))
        factories.move(manager, early, "50", cooler, When(START - dt.timedelta(hours=1)))
        factories.move(manager, late, "50", cooler, When(minute(20)))

        seen = see(row("4", "6", "6", "6", "4", "6", "4"), AT_MOST_5)
        found = loggers.stood_during(cooler, seen.excursions)

        told = [
            [(each.stay.lot.code, each.duration.seconds // 60) for each in stood]
            for _, stood in found
        ]
        assert told == [[(early.code, 30), (late.code, 20)], [(early.code, 10), (late.code, 10)]]

    def test_a_hundred_excursions_take_as_many_queries_as_one(
        self, manager, cooler, django_assert_num_queries
    ):
        factories.move(manager, factories.bottles(manager, when=factories.at(1)), "50", cooler,
                       When(START))  # fmt: skip
        seen = see(row(*("6", "4") * 100), AT_MOST_5)

        with django_assert_num_queries(9):
            loggers.stood_during(cooler, seen.excursions[:1])
        with django_assert_num_queries(9):
            loggers.stood_during(cooler, seen.excursions)

    def test_lots_that_stood_warm_are_looked_at_by_whoever_judges_them(self, manager, cooler):
        helpers.limit(
            manager,
            "place_temperature",
            lot_kind="bottling",
            measurand="temperature",
            operator="<=",
            value="5",
            cause="pressure",
        )
        lot = factories.bottles(manager, 50, when=factories.at(1))
        factories.move(manager, lot, "50", cooler, When(START - dt.timedelta(hours=1)))

        kept = record(manager, cooler, row("4", "12", "4"), ceiling=ceiling_of(cooler))

        assert len(kept.seen) == 1
        assert kept.seen[0].startswith(f"{lot} is kept back")
