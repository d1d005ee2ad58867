from __future__ import annotations

import datetime as dt
import io
import json
import re

import pypdf
import pytest

from brewlog.domain import people
from brewlog.domain.lots import void
from brewlog.domain.people import change_brewery
from brewlog.models import BottlingLot, LotUse
from brewlog.when import dates_in, show_day
from compliance.documents.collect_lot import collect_lot
from compliance.documents.lot_sheet import lot_sheet
from compliance.domain import labels, releases
from tests import factories
from tests.compliance import rules
from tests.compliance.documents.papers import codes_of, ink_in_margins, pages_of, words_of
from tests.compliance.documents.story import PRINTED_AT, hold
from tests.compliance.rules import bound


def packet_of(lot, actor):
    return collect_lot(lot, printed_by=actor, printed_at=PRINTED_AT)


def sheet_of(lot, actor, paper="a4"):
    return words_of(lot_sheet(packet_of(lot, actor), paper))


def test_batch_sheet_says_what_the_record_says(story):
    words = sheet_of(story.batch, story.actor)
    for part in (
        "B26061A",
        "Batch: House black v1 in Tank 2",
        "State: draft - not released",
        "Tank 2 (stainless steel)",
        "House black v1, approved",
        "town water, boiled and stood",
        "2 Mar 2026 15:00 * K26061A brew: sweet tea, House black v1 54 L",
        "2 Mar 2026 16:00 * S26060A culture: Ría Norte, bought as a culture 6 L",
        "starter added 76 °F 60 L",
        "4 Mar 2026 17:00 * fermenting pH 3.86 – 22.0 °C pH meter 1",
        "no mould, kahm yeast smell: sharp, clean; look: pale film ready",
        "L26071A bottling: Ginger, 330 mL swing-top 50 L",
        "should be on hand 10 L",
        "Never held.",
        "No laboratory results recorded.",
        "Carbon dioxide",
        "Local codes and licensed practice come before this paper.",
        "Released or rejected by",
    ):
        assert part in words


def test_planned_amounts_stand_beside_what_was_used_by_lot(story):
    # 60 L planned at 5 g, 60 g and 100 mL a litre; 54 of the brew's 108 L, so half its 600 g
    # and 7.2 kg.
    planned = packet_of(story.batch, story.actor).planned
    assert [(p.what, p.planned, p.used, p.difference) for p in planned] == [
        ("Assam BOP", "300 g", "300 g", "+0.0 %"),
        ("Cane sugar, raw", "3.6 kg", "3.6 kg", "+0.0 %"),
        ("starter", "6 L", "6 L", "+0.0 %"),
    ]
    assert planned[0].lots == ("R26058A: 300 g (54 L of brew K26061A, which took 600 g)",)


def test_what_the_recipe_does_not_name_is_shown_as_such(story):
    honey = factories.ingredient_lot(story.actor, "2 kg")
    factories.use(story.actor, honey, story.brew, "500 g", factories.at(2, 11), "ingredient")
    last = packet_of(story.brew, story.actor).planned[-1]
    assert (last.planned, last.used, last.lots) == (
        "not in the recipe",
        "500 g",
        (f"{honey.code}: 500 g",),
    )


def test_share_of_a_brew_of_unknown_volume_is_not_guessed(story):
    kettle = factories.batches.start_brew(
        actor=story.actor,
        when=factories.at(3),
        lines=[factories.Draw(story.tea, factories.quantity("100 g"), "ingredient")],
    )
    jar = factories.batch(story.actor, "20 L", recipe=story.batch.recipe,
                          planned=factories.quantity("20 L"))  # fmt: skip
    factories.use(story.actor, kettle, jar, "10 L", factories.at(3), "brew")
    tea = packet_of(jar, story.actor).planned[0]
    assert (tea.used, tea.difference) == ("not known", "")


def test_readings_name_the_instruments_state_at_the_time(story):
    first, _, third, _ = packet_of(story.batch, story.actor).readings
    found_out = "; IN DOUBT: out of tolerance as found 2026-03-20 08:00"
    assert first.calibration == f"in tolerance as found 2026-03-01 08:00{found_out}"
    assert third.calibration == (
        f"in tolerance as found 2026-03-01 08:00, overdue since 2026-03-08{found_out}"
    )


def test_an_instrument_never_calibrated_is_named_so(story):
    bare = factories.instrument(story.actor, "strips")
    factories.reading(story.actor, story.batch, "3.5", factories.at(10), instrument=bare)
    last = packet_of(story.batch, story.actor).readings[-1]
    assert last.calibration == "no calibration on record"


def test_a_good_calibration_in_between_clears_the_doubt(story):
    factories.calibration(story.actor, story.meter, "in", factories.at(15))
    assert "IN DOUBT" not in sheet_of(story.batch, story.actor)


def test_struck_out_entries_stay_with_the_reason(story):
    packet = packet_of(story.batch, story.actor)
    struck = [reading for reading in packet.readings if reading.void]
    assert [reading.value for reading in struck] == ["3.99"]
    words = words_of(lot_sheet(packet))
    assert "3.99" in words
    assert "by Manager: typed 3.99 for 3.29" in words


def test_a_struck_out_entry_is_drawn_through(story):
    def strokes(pdf: bytes) -> int:
        pages = pypdf.PdfReader(io.BytesIO(pdf)).pages
        return sum(page.get_contents().get_data().count(b" l S") for page in pages)

    before = strokes(lot_sheet(packet_of(story.bottles, story.actor)))
    line = story.bottles.clearances.get()
    void(actor=story.actor, record=line, reason="another line")
    assert strokes(lot_sheet(packet_of(story.bottles, story.actor))) > before


def test_late_entries_are_marked(story):
    use = LotUse.objects.get(into=story.batch.pk, purpose="starter")
    entry = next(e for e in packet_of(story.batch, story.actor).uses_in if e.other == "S26060A")
    assert entry.late.startswith(f"late: written {use.recorded_at.year}")
    assert "by Manager" in entry.late


def test_what_was_read_in_together_is_told_late_in_one_sentence(story):
    factories.reading(story.actor, story.batch, "3.2", factories.now())
    packet = packet_of(story.batch, story.actor)
    words = words_of(lot_sheet(packet))
    late = packet.to_json().count('"late": "late: written')
    assert words.count("Written later than a shift") == 1
    today = show_day(factories.now().at.date(), day_first=True)
    assert f"on {today} by Manager: {late} entries." in words
    assert words.count("late: written") == 1  # the lot itself, among what it is
    in_time = dates_in(packet.readings[-1].when, day_first=True)
    assert f"{in_time} fermenting" in words
    assert f"{in_time} *" not in words


def test_two_late_entries_are_told_each_at_its_row(story):
    spare = factories.ingredient_lot(story.actor, "1 kg")
    factories.reading(story.actor, spare, "3.4", factories.at(10))
    factories.reading(story.actor, spare, "3.3", factories.at(11))
    assert sheet_of(spare, story.actor).count("late: written") == 3  # the delivery itself too


def test_entry_written_in_time_has_no_late_mark(story):
    factories.reading(story.actor, story.batch, "3.2", factories.now())
    assert packet_of(story.batch, story.actor).readings[-1].late == ""


def test_bottling_sheet_has_shipments_checks_laboratory_and_balance(story):
    words = sheet_of(story.bottles, story.actor)
    for part in (
        "Bottling: Ginger, 330 mL swing-top",
        "49.5 L (150 × 330 mL)",
        "R26067A ingredient: Ginger, fresh (supplier's lot SUP-R26067A) 1.5 kg",
        "0.42 % vol 0.02 – Test House Nº 9, distillation, TH-77",
        "nothing ran before; first label kept, last label not kept",
        "4 kept cold, open on 10 Jun 2026",
        "16 Mar 2026 07:00 * D-118 Café Ñandú",
        "delivery note DN-118",
        "−2 bottles breakage",
        "Cooler",
        "shipped −96",
        "first label was creased OPEN",
        "Bottles under pressure burst",
    ):
        assert part in words


def test_labels_printed_and_what_became_of_them_are_on_the_sheet(story):
    labels.print_labels(actor=story.actor, lot=story.bottles, count=156, when=factories.at(13))
    labels.count_labels(
        actor=story.actor, lot=story.bottles, put_on=150, spoiled=4, destroyed=2,
        when=factories.at(13),
    )  # fmt: skip
    words = sheet_of(story.bottles, story.actor)
    assert "labels printed 156 for bottles, cans or kegs" in words
    assert "labels counted 150 put on, 4 spoiled, 2 destroyed" in words


def test_mass_balance_lines_add_up(story):
    lines = {line.what: line.amount for line in packet_of(story.bottles, story.actor).balance}
    assert lines == {
        "made or received": "150",
        "shipped": "−96",
        "breakage": "−2",
        "should be on hand": "52",
    }


def test_delivery_sheet_holds_the_receiving_record(story):
    words = sheet_of(story.tea, story.actor)
    for part in (
        "Łąka Herbata & Zioła Nowhere Lane 5 555-0142 orders@example.com",
        "SUP-R26058A",
        "invoice INV-R26058A",
        "10 kg",
        "State: accepted",
        "600 g",
    ):
        assert part in words


def test_culture_sheet_counts_transfers_since_bought(story):
    words = sheet_of(story.culture, story.actor)
    assert "Transfers since bought 0" in words
    assert "do not scrape it off" in words


def test_preparation_and_brew_have_sheets(story):
    syrup = factories.ingredients.prepare(
        actor=story.actor,
        name="Ginger syrup",
        preparation_kind="syrup",
        when=factories.at(9),
        quantity=factories.quantity("2 L"),
        lines=[factories.Draw(story.ginger, factories.quantity("500 g"), "ingredient")],
    )
    assert "Ginger syrup (syrup)" in sheet_of(syrup, story.actor)
    assert "tea steeped 92.0 °C 15 min" in sheet_of(story.brew, story.actor)


def test_what_keeps_a_lot_back_stands_at_the_top_of_every_page(story):
    hold(story.actor, story.culture, why="grey-green spots")
    packet = packet_of(story.bottles, story.actor)
    assert packet.blocks == ("made from S26060A, held: mould or foreign growth",)
    for words in pages_of(lot_sheet(packet)):
        assert "state: KEPT BACK; draft - not released" in words


def test_a_hold_of_another_lot_that_ended_here_is_on_the_sheet(story, reviewer):
    factories.hold(story.actor, story.culture, "mould", factories.at(22))
    factories.holds.end_hold_at(
        actor=reviewer,
        hold=story.culture.holds.get(),
        lot=story.bottles,
        reason="opened and looked at, clean",
    )
    words = sheet_of(story.bottles, story.actor)
    assert "mould or foreign growth, held with S26060A" in words
    assert "ended at this lot" in words
    assert "State: draft - not released" in words


def test_limits_stand_beside_the_values_and_what_was_found_of_them(story):
    bound(story.actor, "kombucha-guidance")
    packet = packet_of(story.batch, story.actor)
    assert {reading.limit for reading in packet.readings} == {"≤ 4.2 in 7 d"}
    told = {each.title: each for each in packet.limits}
    assert told["pH 4.2 within 7 days"].comparison == "≤ 4.2 pH"
    assert told["pH 4.2 within 7 days"].found.startswith("too close, measure again: ")
    assert told["Share of starter"].found == "nothing against it"
    bottled = {each.title: each.found for each in packet_of(story.bottles, story.actor).limits}
    assert bottled["pH of the finished drink"] == "nothing measured shows it"
    assert "≤ 4.2 in 7 d 22.0 °C pH meter 1" in words_of(lot_sheet(packet))


def test_deviations_and_who_signed_are_on_the_sheet(story, reviewer):
    rules.deviation(story.actor, story.batch, title="lid left open")
    releases.review(
        actor=reviewer, lot=story.batch, password=rules.PASSWORD, remark="all looked at"
    )
    packet = packet_of(story.batch, story.actor)
    assert [(d.title, d.corrected) for d in packet.deviations] == [("lid left open", "OPEN")]
    [signed] = packet.signatures
    assert (signed.name, signed.meaning, signed.statement) == (
        "Reviewer", "reviewed", "all looked at",
    )  # fmt: skip
    words = words_of(lot_sheet(packet))
    assert "lid left open: found open in the morning OPEN" in words
    when = dates_in(signed.when, day_first=True)
    assert f"{when} Reviewer reviewed all looked at {signed.digest}" in words
    assert f"State: reviewed {when} by Reviewer" in words


def test_state_is_released_and_then_changed_after_signature(story, reviewer):
    fresh = factories.bottles(story.actor, code="L26080A")
    assert packet_of(fresh, story.actor).head.state == "draft - not released"
    releases.release(actor=reviewer, lot=fresh, password=rules.PASSWORD)
    released = packet_of(fresh, story.actor).head.state
    assert re.fullmatch(r"released 20\d\d-\d\d-\d\d \d\d:\d\d by Reviewer", released)
    factories.reading(story.actor, fresh, "3.1", factories.now())
    packet = packet_of(fresh, story.actor)
    assert packet.head.state == f"{released}; CHANGED AFTER SIGNATURE"
    assert all("CHANGED AFTER SIGNATURE" in words for words in pages_of(lot_sheet(packet)))


def test_sections_are_bookmarks_where_there_is_more_than_one_page(story):
    sheet = pypdf.PdfReader(io.BytesIO(lot_sheet(packet_of(story.batch, story.actor))))
    titles = {str(each.title): sheet.get_destination_page_number(each) for each in sheet.outline}
    assert titles["What it is"] == 0
    assert titles["Signatures"] == len(sheet.pages) - 1 > 0
    assert sheet.metadata.title == "Lot sheet: Lot B26061A"
    assert sheet.metadata.author == "Saltmarsh Ferments"
    assert sheet.root_object["/Lang"] == "en"


def test_a_culture_used_up_is_retired_and_not_kept_back(story):
    factories.cultures.retire(actor=story.actor, culture=story.culture, retire_reason="used up")
    packet = packet_of(story.culture, story.actor)
    assert packet.head.state == "retired"


def test_a_voided_lot_is_printed_as_void(story):
    spare = factories.ingredient_lot(story.actor, "1 kg")
    void(actor=story.actor, record=spare, reason="written twice")
    assert "State: VOID" in sheet_of(spare, story.actor)


def test_amounts_worked_out_are_in_the_readers_units(story):
    story.actor.units = "us"
    words = sheet_of(story.batch, story.actor)
    assert "should be on hand 2.642 gal" in words
    assert "54 L" in words  # as typed


def test_lot_code_is_scanned_from_paper(story):
    for paper in ("a4", "letter"):
        pdf = lot_sheet(packet_of(story.batch, story.actor), paper)
        assert [code.text for code in codes_of(pdf, 300)] == ["B26061A"]


def test_a_code_no_barcode_carries_still_has_a_sheet(story):
    odd = factories.ingredient_lot(story.actor, "1 kg", code="Çà/1")
    pdf = lot_sheet(packet_of(odd, story.actor))
    assert "Çà/1" in words_of(pdf)
    assert codes_of(pdf, 200) == []


def test_letters_the_type_lacks_are_told_of_on_the_sheet(story):
    assert "stands for a letter" not in sheet_of(story.batch, story.actor)
    factories.reading(story.actor, story.batch, "3.2", factories.at(10), note="টক")
    words = sheet_of(story.batch, story.actor)
    assert "☐ stands for a letter that the type of this paper lacks" in words
    assert "note: ☐☐" in words


def test_notes_in_other_letters_are_on_the_sheet(story):
    note = "טעם חמוץ L-17, 酸味, ძმარი"
    factories.reading(story.actor, story.batch, "3.2", factories.at(10), note=note)
    words = sheet_of(story.batch, story.actor)
    assert "☐" not in words
    assert all(word in words or word[::-1] in words for word in ("טעם", "חמוץ", "L-17", "酸味"))


def test_a_hundred_uses_and_long_names_break_over_pages(story):
    for number in range(100):
        other = factories.ingredient_lot(
            story.actor,
            "1 kg",
            of=factories.ingredient(story.actor, f"Thé d'été très, très long à nommer n° {number}"),
            supplier=None,
        )
        factories.use(story.actor, other, story.brew, f"{number + 1} g", purpose="ingredient")
    pdf = lot_sheet(packet_of(story.brew, story.actor))
    words = words_of(pdf)
    assert all(f"à nommer n° {number}" in words for number in range(100))
    assert len(pages_of(pdf)) > 5
    assert ink_in_margins(pdf, 4) == 0


def test_queries_do_not_grow_with_the_entries(story, django_assert_num_queries):
    for number in range(20):
        factories.reading(story.actor, story.batch, "3.4", factories.at(10), instrument=story.meter)
        factories.use(
            story.actor,
            factories.ingredient_lot(story.actor, "1 kg"),
            story.batch,
            f"{number + 1} g",
            purpose="ingredient",
        )
    with django_assert_num_queries(QUERIES["batch"]):
        packet_of(story.batch, story.actor)


QUERIES = {"ingredient": 32, "culture": 36, "brew": 34, "batch": 39, "bottling": 39}


@pytest.mark.parametrize("kind", QUERIES)
def test_queries_of_each_kind(story, kind, django_assert_num_queries):
    lot = {
        "ingredient": story.tea,
        "culture": story.culture,
        "brew": story.brew,
        "batch": story.batch,
        "bottling": story.bottles,
    }[kind]
    with django_assert_num_queries(QUERIES[kind]):
        packet_of(lot, story.actor)


def test_json_holds_the_same_facts(story):
    packet = packet_of(story.batch, story.actor)
    read = json.loads(packet.to_json())
    assert read["code"] == "B26061A"
    assert read["head"]["printed_at"] == "2026-05-02 09:30"  # 08:30 UTC in Lisbon's summer
    assert [r["value"] for r in read["readings"]] == ["4.41", "3.86", "3.24", "3.99"]
    assert len(read["uses_in"]) == len(packet.uses_in) == 2


def test_dates_on_paper_are_in_the_brewerys_order_and_in_its_json_in_none(story):
    change_brewery(actor=story.actor, reason="moved", date_order="month")

    packet = packet_of(story.bottles, story.actor)

    assert "16 Mar 2026" not in words_of(lot_sheet(packet))
    assert "Mar 16, 2026 07:00 * D-118 Café Ñandú" in words_of(lot_sheet(packet))
    assert [each["when"] for each in json.loads(packet.to_json())["shipments"]][0].startswith(
        "2026-03-16"
    )


def test_what_was_typed_in_grams_is_summed_up_in_grams_whoever_reads_it(story):
    people.set_units(actor=story.actor, units="us", date_order="")
    herb = factories.ingredient(story.actor, "Hibiscus")
    for amount in ("5 g", "7 g"):
        lot = factories.ingredient_lot(story.actor, "1 kg", of=herb, supplier=None)
        factories.use(story.actor, lot, story.brew, amount, purpose="ingredient")

    planned = {line.what: line for line in packet_of(story.brew, story.actor).planned}

    assert (planned["Assam BOP"].planned, planned["Assam BOP"].used) == ("540 g", "600 g")
    assert planned["Hibiscus"].used == "12 g"
    assert len(planned["Hibiscus"].lots) == 2


def test_very_many_lots_of_one_ingredient_are_told_one_after_the_other(story):
    herb = factories.ingredient(story.actor, "Hibiscus")
    used = []
    for grams in range(1, 8):
        lot = factories.ingredient_lot(story.actor, "1 kg", of=herb, supplier=None)
        factories.use(story.actor, lot, story.brew, f"{grams} g", purpose="ingredient")
        used.append(f"{lot.code}: {grams} g")

    assert "; ".join(used) in sheet_of(story.brew, story.actor)


def test_a_picture_says_from_when_it_counts_in_the_brewerys_order(story):
    change_brewery(actor=story.actor, reason="moved", date_order="month")

    packet = packet_of(story.batch, story.actor)

    assert "since starter was added, Mar 2, 2026 16:00" in words_of(lot_sheet(packet))
    assert {plot.x_title for plot in packet.courses} == {
        "since starter was added, 2026-03-02 16:00"
    }


def test_the_same_record_gives_the_same_bytes(story):
    first = lot_sheet(packet_of(story.bottles, story.actor))
    assert first == lot_sheet(packet_of(BottlingLot.objects.get(), story.actor))


def test_another_time_of_printing_is_on_the_paper(story):
    later = collect_lot(
        story.batch, printed_by=story.actor, printed_at=PRINTED_AT + dt.timedelta(hours=1)
    )
    assert "printed 2 May 2026 10:30" in words_of(lot_sheet(later))
