"""The order and the forms of letters, against the Unicode bidirectional algorithm's own rules.

The Hebrew of these tests is nonsense; L-to-R marks are left out for who reads it here:
each case is written as a list of its words, in the order they are seen.
"""

import pytest

from brewlog.scripts import in_sight, is_from_right, joined, set_apart

TEA, BLACK, LEMON = "תה", "שחור", "לימון"


def seen(*words: str) -> str:
    """The words from left to right as they are seen, Hebrew letters turned."""
    return " ".join(w[::-1] if is_from_right(w) else w for w in words)


def shown(text: str) -> str:
    return in_sight(text, is_from_right(text))


def test_hebrew_is_read_from_the_right():
    assert shown(f"{TEA} {BLACK} {LEMON}") == seen(LEMON, BLACK, TEA)


def test_latin_stays_as_it_is():
    assert shown("Black tea, L-17 (raw)") == "Black tea, L-17 (raw)"


@pytest.mark.parametrize(
    "code", ["L-17", "2026-01-05", "L26071A/2", "330 mL", "3.2", "−5 °C", "10:30"]
)
def test_a_code_within_a_name_keeps_its_own_order(code):
    assert code in shown(f"{TEA} {BLACK} {code} {LEMON}")
    assert shown(f"{TEA} {code} {LEMON}").startswith(LEMON[::-1])


def test_a_date_after_a_name_in_a_sentence_is_not_drawn_into_it():
    assert shown(f"Held: {TEA} {BLACK} 2026-01-05") == f"Held: {seen(BLACK, TEA)} 2026-01-05"


def test_a_code_between_the_words_of_a_name_stands_between_them_in_a_sentence():
    assert shown(f"see {TEA} L-17 {LEMON} today") == f"see {seen(LEMON)} L-17 {seen(TEA)} today"


def test_names_in_a_list_of_a_sentence_follow_each_other_from_the_left():
    words = f"Ingredients: {TEA}, {LEMON}, water."
    assert shown(words) == f"Ingredients: {seen(TEA)}, {seen(LEMON)}, water."


def test_brackets_face_round_what_they_hold():
    assert shown(f"{TEA} ({LEMON})") == f"({seen(LEMON)}) {seen(TEA)}"
    assert shown(f"tea ({LEMON})") == f"tea ({seen(LEMON)})"


def test_a_hyphen_before_a_figure_is_no_sign_where_a_word_stands_before_it():
    assert shown("ב-12 בינואר") == "ראוניב 12-ב"


def test_a_text_runs_from_the_right_only_where_it_begins_so_and_is_mostly_so():
    assert is_from_right(f"{TEA} {BLACK} L-17")
    assert not is_from_right(f"Lot L-17: {TEA} {BLACK}")
    assert not is_from_right(f"{TEA}, which was held by the reviewer")
    assert not is_from_right("L-17")


def test_every_letter_is_kept():
    text = f"Held: {TEA} {BLACK} L-17 ({LEMON}) 3 kg, {LEMON}/{TEA} «{TEA}» 5 %"
    assert sorted(shown(text)) == sorted(text.translate(str.maketrans("", "", "")))


# The joined forms of the Unicode block Arabic Presentation Forms-B: sheen, alef, yeh.
def test_arabic_letters_take_the_forms_they_have_beside_each_other():
    assert joined("شاي") == "\N{ARABIC LETTER SHEEN INITIAL FORM}\N{ARABIC LETTER ALEF FINAL FORM}ي"
    assert joined("بيت") == (
        "\N{ARABIC LETTER BEH INITIAL FORM}\N{ARABIC LETTER YEH MEDIAL FORM}"
        "\N{ARABIC LETTER TEH FINAL FORM}"
    )


def test_lam_and_alef_are_one_letter():
    assert joined("لا") == "\N{ARABIC LIGATURE LAM WITH ALEF ISOLATED FORM}"


def test_vowel_marks_are_kept():
    assert "\N{ARABIC FATHA}" in joined("شَاي")


def test_what_is_joined_once_is_not_joined_otherwise_the_second_time():
    assert joined(joined("شاي أسود")) == joined("شاي أسود")


def test_a_page_is_given_marks_that_set_names_apart():
    assert set_apart(f"{TEA} 2026-01", is_from_right(TEA)) == f"{TEA} \u20662026-01\u2069"
    assert set_apart(f"of {TEA} 1", False) == f"of \u2067{TEA}\u2069 1"
