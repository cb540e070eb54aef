import pytest
from hypothesis import given
from hypothesis import strategies as st

from tideover.laws import contacts


@given(st.floats(0.0, 0.4), st.floats(250.0, 400.0))
def test_drop_and_hot_spot_are_inverse(v, temp):
    rise = contacts.hot_spot_temperature(v, temp) - temp
    assert contacts.hot_spot_drop(max(rise, 0.0), temp) == pytest.approx(v, rel=1e-6, abs=1e-7)


@pytest.mark.parametrize(("millivolts", "rise"), [(10, 1.7), (20, 6.8), (50, 40), (100, 139)])
def test_rise_of_the_spot_agrees_with_the_published_row(millivolts, rise):
    got = contacts.hot_spot_temperature(millivolts * 1e-3, 298.15) - 298.15
    assert got == pytest.approx(rise, rel=0.03)


def test_melting_drop_of_copper_reaches_its_melting_point():
    assert contacts.hot_spot_temperature(contacts.MELTING["copper"], 293.15) == pytest.approx(
        1358.0, rel=0.05
    )


def test_no_drop_no_rise():
    assert contacts.hot_spot_temperature(0.0, 300.0) == 300.0


def test_a_new_contact_has_its_new_resistance():
    assert contacts.aged_contact(0.015, 0, 5000, 0.0) == 0.015


def test_films_grow_slower_on_gold():
    gold, tin = (contacts.aged_contact(0.01, 0, 500, 1e8, contacts.FILM_LIFE[m]) for m in ("gold", "tin"))
    assert gold < tin
