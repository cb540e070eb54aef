"""Finding a part by what people call it."""

from __future__ import annotations

import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tideover.shelf import find, items, nearest, search
from tideover.shelf.names import words


@pytest.mark.parametrize(
    ("said", "name"),
    [
        ("19 V 3.4 A adapter", "19 V 3.4 A adapter"),
        ("Adapter 19V 3.4A", "19 V 3.4 A adapter"),
        ("adapter, 19 V, 3400 mA", "19 V 3.4 A adapter"),
        ("nickel 8x0.15", "nickel strip 8 × 0.15 mm"),
        ("Nickel Strip 8 X 0.15mm", "nickel strip 8 × 0.15 mm"),
        ("barrel jack 5.5/2.1 mm", "barrel jack 5.5/2.1"),
        ("flexible wire 0,75 mm2", "flexible wire 0.75 mm²"),
        ("Schottky diodes 3A 40V", "Schottky 3 A 40 V"),
        ("protection board 3S 10A", "protection board 3 series 10 A"),
        ("3-cell protection board, 10 A", "protection board 3 series 10 A"),
        ("switching charger with 3 cells, 2 A", "switching charger 3 series 2 A"),
        ("2200 uF 35 V electrolytic", "electrolytic 2.2 mF 35 V"),
        ("2200 µF 35 V electrolytic", "electrolytic 2.2 mF 35 V"),
        ("ideal diode 10 mohm", "ideal diode 10 mΩ"),
        ("buck boost 12V 3A", "buck-boost 12 V 3 A"),
        ("power relay 10 A with 12 V coil", "power relay 10 A, 12 V coil"),
        ("rocker switches 6A", "rocker switch 6 A"),
        ("blade fuse 7.50 A", "7.5 A blade fuse"),
        ("NMC 18650 2500 mAh high-drain", "NMC 18650 2.5 Ah high drain"),
        ("dc cable 18awg 1.5m", "DC cable 18 AWG 1.5 m"),
        ("USB-C pair", "USB type C pair"),
        ("plastic box 150x100x50 sealed", "plastic box 150 × 100 × 50 mm, sealed"),
    ],
)
def test_a_part_is_found_however_it_is_written(said: str, name: str) -> None:
    found = find(said)
    assert found
    assert found.name == name


def test_every_part_is_found_by_its_name_and_by_each_alias() -> None:
    for item in items():
        for name in (item.name, *item.aliases):
            assert find(name) is item, name
            assert find(name.upper().replace("MΩ", "mΩ")) is item, name


@pytest.mark.parametrize(
    "said",
    [
        "",
        " ",
        "barrel jack",
        "19 V adapter",
        "12 V 3.4 A adapter",
        "plastic box 150 × 100 × 50 mm",
        "\0",
        "💡",
        "x" * 5000,
    ],
)
def test_a_name_that_is_unknown_or_fits_several_finds_nothing(said: str) -> None:
    assert find(said) is None


def test_a_wrong_rating_is_never_taken_for_the_right_one() -> None:
    """3 A is not 0.3 A, 1.5 m not 15 m, 10 mΩ not 10 Ω."""
    for said in (
        "protection board 3 series 1 A",
        "DC cable 18 AWG 15 m",
        "ideal diode 10 Ω",
        "electrolytic 2.2 µF 35 V",
    ):
        assert find(said) is None


@pytest.mark.parametrize(
    ("said", "name"),
    [
        ("barel jack 5.5/2.1", "barrel jack 5.5/2.1"),
        ("19 V adapter", "19 V 3.4 A adapter"),
        ("schotky 3 A 40 V", "Schottky 3 A 40 V"),
        ("7.5 A fuse", "7.5 A blade fuse"),
        ("NMC 18650 2.5 Ah", "NMC 18650 2.5 Ah high drain"),
    ],
)
def test_the_nearest_name_is_offered_first(said: str, name: str) -> None:
    offered = nearest(said)
    assert offered[0] == name
    assert len(offered) <= 3
    assert nearest(said, 1) == [name]
    assert nearest(said, 0) == []


def test_nothing_is_offered_for_nonsense() -> None:
    assert nearest("qqqq zzzz") == nearest("") == []
    assert nearest("jack" * 100_000) == []


def test_a_search_wants_every_word_and_puts_names_first() -> None:
    relays = [item.name for item in search("12V relays")]
    assert relays == [
        "power relay 10 A, 12 V coil",
        "power relay 16 A, 12 V coil",
        "automotive relay 20 A, 12 V coil",
    ]
    assert {item.kind for item in search("boost")} == {"boost", "buck-boost", "charger"}
    assert {item.family for item in search("heat sink")} == {"reference"}
    assert search("no such thing") == []
    assert search("") == list(items())


@given(st.text(max_size=60))
def test_any_text_at_all_is_answered(text: str) -> None:
    found = find(text)
    assert found is None or found in items()
    assert isinstance(nearest(text), list)
    assert words(" ".join(words(text))) is not None
    search(text)


def printed(script: str) -> str:
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    return done.stdout.strip()


def test_reading_the_shelf_loads_no_numerical_library() -> None:
    heavy = "{'numpy', 'scipy', 'pydantic', 'ruamel.yaml'}"
    script = f"import sys; from tideover.shelf import items; items(); print({heavy} & set(sys.modules))"
    assert printed(script) == "set()"


def test_nothing_is_read_until_it_is_asked_for() -> None:
    script = "import tideover.shelf; print(tideover.shelf.items.cache_info().currsize)"
    assert printed(script) == "0"
