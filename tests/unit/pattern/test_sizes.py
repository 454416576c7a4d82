"""Ring sizes as the trade writes and types them."""

import math

import pytest

from pourwell.errors import BadRequestError
from pourwell.steps.pattern.sizes import diameter_of, sizes


def test_a_bore_is_written_as_each_system_writes_it():
    said = sizes(17.32)
    assert (said.iso, said.us, said.uk, said.jp, said.ch) == ("54.4", "7", "N½", "14", "14.4")


@pytest.mark.parametrize(
    ("diameter_mm", "us"), [(11.63, "0"), (11.83, "¼"), (12.04, "½"), (17.32, "7"), (17.5, "7¼"), (17.75, "7½"), (17.93, "7¾")]
)
def test_us_sizes_go_by_quarters(diameter_mm, us):
    assert sizes(diameter_mm).us == us


@pytest.mark.parametrize(
    ("around_mm", "uk"),
    [(37.5, "A"), (38.1, "A½"), (53.75, "N"), (54.4, "N½"), (68.75, "Z"), (69.4, "Z½"), (70.0, "Z+1"), (70.6, "Z+1½")],
)
def test_uk_sizes_go_by_half_letters_and_on_beyond_z(around_mm, uk):
    assert sizes(around_mm / math.pi).uk == uk


@pytest.mark.parametrize(
    ("diameter_mm", "system", "text"),
    [
        (11.0, "us", "under 0"),
        (11.0, "uk", "under A"),
        (12.6, "jp", "under 1"),
        (12.6, "ch", "under 1"),
        (25.5, "us", "over 16"),
        (25.5, "uk", "over Z+6½"),
        (23.2, "jp", "over 30"),
        (25.5, "ch", "over 36"),
        (62.0, "us", "over 16"),
    ],
)
def test_what_a_system_does_not_have_is_said(diameter_mm, system, text):
    assert getattr(sizes(diameter_mm), system) == text


@pytest.mark.parametrize("diameter_mm", [5.0, 11.0, 25.5, 62.0])
def test_iso_goes_on_for_ever_since_it_is_a_length(diameter_mm):
    assert float(sizes(diameter_mm).iso) == pytest.approx(math.pi * diameter_mm, abs=0.05)


@pytest.mark.parametrize("text", ["US 7", "us 7", "US7", "US 7.0", "CA 7", "  US   7 "])
def test_a_us_size_is_understood_however_it_is_typed(text):
    assert diameter_of(text) == pytest.approx(17.3196)


@pytest.mark.parametrize("text", ["US 6 1/2", "US 6.5", "US 6,5", "US 6½", "US 6 ½", "US 6 2/4"])
def test_fractions_are_understood(text):
    assert diameter_of(text) == pytest.approx(11.63 + 0.8128 * 6.5)


@pytest.mark.parametrize("text", ["UK N 1/2", "UK N1/2", "UK N½", "uk n½", "AU N½", "IE N½", "NZ N1/2"])
def test_half_letters_are_understood(text):
    assert diameter_of(text) == pytest.approx(54.375 / math.pi)


@pytest.mark.parametrize(
    ("text", "around_mm"),
    [("ISO 54", 54), ("ISO 54.5", 54.5), ("EU 54", 54), ("CH 14", 54), ("UK Z+1", 70), ("UK Z+1½", 70.625), ("UK Z + 1", 70)],
)
def test_other_systems_are_understood(text, around_mm):
    assert diameter_of(text) == pytest.approx(around_mm / math.pi)


@pytest.mark.parametrize("text", ["17.3 mm", "17.3mm", "17,3 mm", "Ø 17.3", "ø17.3 mm"])
def test_a_diameter_is_understood(text):
    assert diameter_of(text) == pytest.approx(17.3)


@pytest.mark.parametrize(
    "text",
    ["", " ", "54", "N", "US", "US N", "UK 7", "UK Q+1", "UK Z+", "UK NN", "US 6 1/3", "US -1", "US nan", "XX 7", "JP", "UK N mm"],
)
def test_what_is_no_size_is_refused_with_examples(text):
    with pytest.raises(BadRequestError, match="no ring size") as caught:
        diameter_of(text)
    assert "US 6 1/2" in caught.value.try_this


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("7 US", 'The system comes first: "US 7".'),
        ("54 eu", 'The system comes first: "EU 54".'),
        ("EU 54 mm", 'It names a system and mm: write "EU 54" for a size, or "54 mm" for a diameter.'),
        ("0.68 inch", "A diameter is written in mm: this one is 17.27 mm."),
        ('0,68"', "A diameter is written in mm: this one is 17.27 mm."),
        ("IT 14", '"IT" is no system known here; known are ISO, EU, US, CA, UK, IE, AU, NZ, JP, CH.'),
        ("14 DE", '"DE" is no system known here; known are ISO, EU, US, CA, UK, IE, AU, NZ, JP, CH.'),
        ("UK 7", '"7" is no size of UK.'),
        ("US N", '"N" is no size of US.'),
        ("US", "After US there is no size."),
        ("UK N mm", 'It names a system and mm: write "UK N" for a size, or "N mm" for a diameter.'),
        ("54", "A size needs its system."),
        ("N", "A size needs its system."),
        ("", "A size needs its system."),
    ],
)
def test_what_is_not_understood_of_a_size_is_said(text, why):
    with pytest.raises(BadRequestError) as caught:
        diameter_of(text)
    assert caught.value.why == why


@pytest.mark.parametrize("text", ["ISO 17", "US 99", "JP 90", "90 mm", "0 mm", "ISO 0"])
def test_a_size_of_no_finger_is_refused(text):
    with pytest.raises(BadRequestError, match="no size of a finger") as caught:
        diameter_of(text)
    assert "mm across" in caught.value.why
