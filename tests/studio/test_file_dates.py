"""Dates in files: which orders a list of them allows, and what one of them means."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.sheets.dates import date_order, one_date

RANGE = {"earliest": date(2005, 1, 1), "latest": date(2028, 1, 1)}


@pytest.mark.parametrize(
    ("texts", "order"),
    [
        ([], "none"),
        (["", "unknown", "43549"], "none"),
        (["2019-04-03", "2019/04/03", "20190403", "3 April 2019"], "iso"),
        (["05/05/2019", "5.5.19"], "iso"),
        (["03/04/2019", "2019-04-03"], "ambiguous"),
        (["03/04/2019", "25/03/2019"], "day_first"),
        (["03/04/2019", "03/25/2019"], "month_first"),
        (["25/03/2019", "03/25/2019"], "mixed"),
        (["31.12.18", "1.2.18"], "day_first"),
        (["29/02/2019", "02/03/2019"], "ambiguous"),
    ],
)
def test_the_order_of_a_list_is_told_or_left_open(texts, order):
    assert date_order(texts) == order


@pytest.mark.parametrize(
    "text",
    [
        "25 March 2019",
        "March 25, 2019",
        "25th of March 2019",
        "25-Mar-19",
        "Mar. 25 2019",
        "25. März 2019",
        "25. Maerz 2019",
        "25 mars 2019",
        "25 de marzo de 2019",
        "25 marzo 2019",
        "2019-Mar-25",
        "25/03/2019",
        "25.3.2019",
        "25-3-19",
        "25/03/'19",
        "2019.03.25",
        "20190325",
        "2019-03-25T10:30:00Z",
        "25/03/2019 4:30 PM",
    ],
)
def test_one_day_is_read_in_every_way_of_writing_it(text):
    assert one_date(text, "day_first", **RANGE).on == date(2019, 3, 25)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "2019",
        "March 2019",
        "31 June 2019",
        "2019-13-01",
        "0/0/0000",
        "25/3/20190",
        "٢٥/٣/٢٠١٩",
        "1/2/3/4",
        "ma 3 2019",
    ],
)
def test_what_is_no_whole_date_is_none(text):
    reading = one_date(text, "day_first", **RANGE)
    assert (reading.on, reading.trouble) == (None, "not_a_date")


def test_an_abbreviation_of_two_months_is_no_date():
    assert one_date("3 jui 2019", "day_first", **RANGE).trouble == "not_a_date"
    assert one_date("3 juil 2019", "day_first", **RANGE).on == date(2019, 7, 3)


def test_a_short_year_needs_one_century_inside_the_range():
    assert one_date("25/03/19", "day_first", **RANGE).on == date(2019, 3, 25)
    assert one_date("25/03/29", "day_first", **RANGE).trouble == "which_century"
    wide = {"earliest": date(1900, 1, 1), "latest": date(2028, 1, 1)}
    assert one_date("25/03/19", "day_first", **wide).trouble == "which_century"


def test_a_full_year_outside_the_range_is_still_the_date_written():
    assert one_date("25/03/1900", "day_first", **RANGE).on == date(1900, 3, 25)


@given(
    st.dates(date(1900, 1, 1), date(2099, 12, 31)),
    st.sampled_from([("day_first", "%d/%m/%Y"), ("month_first", "%m/%d/%Y")]),
)
def test_a_date_comes_back_in_its_own_order_and_is_never_swapped_in_silence(on, written):
    order, form = written
    text = on.strftime(form)
    assert one_date(text, order, **RANGE).on == on
    assert one_date(text, "ambiguous", **RANGE).on in (on, None)


@given(
    st.text(st.sampled_from("0123456789/.-' TMarch:Z"), max_size=14),
    st.sampled_from(["iso", "day_first", "month_first"]),
)
def test_any_text_gives_a_date_or_a_reason(text, order):
    reading = one_date(text, order, **RANGE)
    assert (reading.on is None) == bool(reading.trouble)
