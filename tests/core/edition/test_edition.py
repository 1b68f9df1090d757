"""Print codes, the certified record, light dose and price floor, against what is published or counted by hand."""

import random
import re
import string
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from printlore.core.edition.code import LENGTH, SIGNS, check_character, new_code, read_code
from printlore.core.edition.dose import light_dose, years_to
from printlore.core.edition.price import PriceTerms, tries_per_print
from printlore.core.edition.record import PrintFacts, differences, digest, in_groups
from printlore.core.edition.state import Place, PrintEvent, is_sold, place_of, trouble
from printlore.core.figure import DECIMAL_MARK
from printlore.core.flags import Flag
from printlore.errors import ValueOutOfRange

CODES = st.integers(0, 10**9).map(lambda seed: new_code(random.Random(seed).choice))


def test_the_check_character_is_that_of_the_published_example():
    """ISO/IEC 7064, MOD 37-2: worked example of a blood service's guidelines, annex 2 (iso7064)."""
    assert check_character("G123498654321") == "H"


def test_no_two_signs_of_a_code_look_alike():
    alike = ("0ODQ", "1IL", "2Z", "5S", "8B", "6G", "UV")
    for group in alike:
        assert sum(sign in SIGNS for sign in group) <= 1, group
    assert not set("0OI1L") & set(SIGNS)


@given(CODES)
def test_a_code_reads_back_however_it_is_written(code):
    assert len(code) == LENGTH + 1
    for text in (code, code.lower(), code.replace("-", ""), f" {code.replace('-', ' ')} "):
        assert read_code(text) == code


@given(CODES)
def test_one_misread_sign_is_always_refused(code):
    signs = code.replace("-", "")
    for at in range(LENGTH):
        for other in string.digits + string.ascii_uppercase:
            if other != signs[at]:
                with pytest.raises(ValueOutOfRange, match=r"Look at the back again"):
                    read_code(signs[:at] + other + signs[at + 1 :])


@given(CODES)
def test_two_swapped_signs_are_always_refused(code):
    signs = list(code.replace("-", ""))
    for one, other in combinations(range(LENGTH), 2):
        swapped = signs.copy()
        swapped[one], swapped[other] = signs[other], signs[one]
        if swapped != signs:
            with pytest.raises(ValueOutOfRange, match=r"its check character does not fit"):
                read_code("".join(swapped))


def test_the_codes_of_our_examples_are_codes():
    root = Path(__file__).parents[3]
    for place in ("docs/editions.md", "src/printlore/faces/web/templates/editions/check_form.html"):
        codes = re.findall(r"\b[0-9A-Z]{4}-[0-9A-Z]{3}\b", (root / place).read_text(encoding="utf-8"))
        assert codes
        assert [read_code(code) for code in codes] == codes


def test_what_is_no_code_is_told_in_words():
    code = new_code(random.Random(1).choice)
    with pytest.raises(ValueOutOfRange, match=r'The print code "K7" has 2 signs; a code has 7\. Look at the back'):
        read_code("K7")
    with pytest.raises(ValueOutOfRange, match=r"holds O, which no code has: it was misread\. Codes are written with"):
        read_code("O" + code[1:])
    with pytest.raises(ValueOutOfRange, match=r'"\?" has no check character; use digits and capital letters'):
        check_character("A?")


FACTS = PrintFacts(code="34AC-E9H", title="Low tide", number=3, prints=15, proofs=1, size=(203.0, 254.0))


def test_the_digest_is_that_of_the_published_example():
    """FIPS 180-4, SHA-256 of the one-block message "abc"."""
    assert in_groups(digest("abc")) == ("ba7816bf 8f01cfea 414140de 5dae2223 b00361a3 96177a9c b410ff61 f20015ad")


def test_the_record_can_be_written_down_by_hand_from_its_form():
    """The form that docs/editions.md describes, so that any program can make the digest again."""
    assert FACTS.text() == (
        "Print record, form 1\nPrint code: 34AC-E9H\nTitle: Low tide\nArtist: not recorded\nNumber: 3/15\n"
        "Prints in all: 15\nArtist's proofs beside: 1\nSize: 203 x 254 mm\nPrinted on: not recorded\n"
        "Negative: not recorded\nProcess: not recorded\nPaper: not recorded\nLot: not recorded\n"
    )
    assert replace(FACTS, proof=True, number=1).number_words == "AP 1/1"


def test_a_number_keeps_the_total_it_was_given_with():
    raised = replace(FACTS, of=15, prints=20)
    assert "Number: 3/15\nPrints in all: 20\n" in raised.text()
    assert replace(raised, proof=True, number=1, of=1, proofs=2).number_words == "AP 1/1"


def test_the_record_is_the_same_however_the_studio_writes_numbers():
    inches = replace(FACTS, size=(203.2, 254.0)).text()
    before = DECIMAL_MARK.set(",")
    assert replace(FACTS, size=(203.2, 254.0)).text() == inches
    DECIMAL_MARK.reset(before)
    assert "Size: 203.2 x 254 mm" in inches


def test_every_change_of_the_record_changes_its_digest_and_is_named():
    changes = {"title": "Low tide 2", "number": 4, "prints": 20, "proof": True, "size": (200.0, 254.0), "lot": "lot 7"}
    for field, value in changes.items():
        other = replace(FACTS, **{field: value})
        assert digest(other.text()) != digest(FACTS.text())
        assert differences(FACTS.text(), other.text())
    assert differences(FACTS.text(), replace(FACTS, title="High tide").text()) == [("Title", "Low tide", "High tide")]
    assert differences(FACTS.text(), FACTS.text()) == []


@given(st.text(max_size=60))
def test_no_title_breaks_the_lines_of_a_record(title):
    lines = replace(FACTS, title=title).text().splitlines()
    assert len(lines) == len(FACTS.text().splitlines())


def test_the_light_dose_is_that_of_the_published_assumptions():
    """450 lx and 12 h a day: 1.97 Mlx h a year; 40 Mlx h in 20 years, at 120 lx in 76 (print-life, and arithmetic)."""
    bright, home = light_dose(450, 12), light_dose(120, 12)
    assert bright / 1e6 == pytest.approx(1.97, abs=0.005)
    assert years_to(40e6, bright) == pytest.approx(20, abs=0.5)
    assert years_to(40e6, home) == pytest.approx(76, abs=0.5)


@pytest.mark.parametrize(("lux", "hours"), [(0, 12), (-1, 12), (float("nan"), 12), (200_000, 12), (100, 0), (100, 25)])
def test_light_that_cannot_be_is_refused(lux, hours):
    with pytest.raises(ValueOutOfRange, match=r"cannot be; (measure|give)"):
        light_dose(lux, hours)
    with pytest.raises(ValueOutOfRange, match=r"both must be above 0"):
        years_to(0, 1)


def test_the_price_floor_is_what_is_counted_by_hand():
    terms = PriceTerms(
        minutes=60, minute=0.5, sheets=2, sheet=1.5, chemistry=1, mount=4, reject_share=0.2, commission=0.5
    )
    assert terms.made == 38
    assert terms.good == pytest.approx(47.5)
    assert terms.floor == pytest.approx(95)
    # sold at the floor, what is left after the commission pays for one good print and its part of the spoiled ones
    assert terms.floor * (1 - terms.commission) * (1 - terms.reject_share) == pytest.approx(terms.made)


def test_shares_that_leave_nothing_are_refused():
    with pytest.raises(ValueOutOfRange, match=r"a commission of 100 % cannot be; give 0 to below 100 %"):
        PriceTerms(minutes=1, minute=1, sheets=1, sheet=1, commission=1)
    with pytest.raises(ValueOutOfRange, match=r"mount is -1; it must be 0 or more"):
        PriceTerms(minutes=1, minute=1, sheets=1, sheet=1, mount=-1)


def test_tries_for_a_good_print_say_how_sure_they_are():
    assert tries_per_print(0, 0).flags == (Flag.PRIOR_ONLY,)
    assert tries_per_print(3, 0).flags == (Flag.AT_LEAST,)
    one = tries_per_print(4, 2)
    assert one.value == 2
    # waiting time for a success of chance 1/2: variance (1 - p) / p^2 = 2, of the mean of two: 1
    assert one.standard_error == pytest.approx(1)
    # right at once: as one of two, variance (1/2) / (1/2)^2 = 2
    once = tries_per_print(1, 1)
    assert (once.value, once.standard_error) == (1, pytest.approx(2**0.5))


H = PrintEvent


@pytest.mark.parametrize(
    ("life", "place", "sold"),
    [
        ((), Place.HERE, False),
        ((H.SIGNED, H.CERTIFIED), Place.HERE, False),
        ((H.SOLD,), Place.HERE, True),
        ((H.SOLD, H.DELIVERED, H.CERTIFIED), Place.AWAY, True),
        ((H.CONSIGNED,), Place.AWAY, False),
        ((H.CONSIGNED, H.SOLD, H.DELIVERED), Place.AWAY, True),
        ((H.SOLD, H.DELIVERED, H.RETURNED), Place.HERE, False),
        ((H.SIGNED, H.DESTROYED), Place.DESTROYED, False),
    ],
)
def test_where_a_print_is_follows_from_its_lines(life, place, sold):
    assert (place_of(life), is_sold(life), trouble(life)) == (place, sold, "")


@pytest.mark.parametrize(
    ("life", "words"),
    [
        ((H.DESTROYED, H.SOLD), "was destroyed before"),
        ((H.RETURNED,), "was here and not sold"),
        ((H.SOLD, H.SOLD), "was sold already"),
        ((H.SOLD, H.CONSIGNED), "was sold or away already"),
        ((H.DELIVERED, H.DELIVERED), "was delivered already"),
        ((H.SIGNED, H.SIGNED), "was signed already"),
    ],
)
def test_what_cannot_have_happened_is_told(life, words):
    assert words in trouble(life)


def test_a_print_that_came_back_can_go_again():
    assert trouble((H.SOLD, H.DELIVERED, H.RETURNED, H.SOLD, H.DELIVERED)) == ""
