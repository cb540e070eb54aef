"""Pages of a build: what they say when its file has faults, and what stands above a figure."""

from pathlib import Path

import pytest
from starlette.testclient import TestClient

from tideover.answers.base import Finding
from tideover.demos import examples
from tideover.draw.figure import title_of
from tideover.web import view
from tideover.web.app import create


@pytest.fixture
def faulty(tmp_path: Path) -> TestClient:
    """A screen with one build, whose file has an unknown unit."""
    text = (examples()["choir-loft"] / "build.yaml").read_text(encoding="utf-8")
    assert "100 mV" in text
    (tmp_path / "loft").mkdir()
    (tmp_path / "loft" / "build.yaml").write_text(text.replace("100 mV", "100 mvolt", 1), encoding="utf-8")
    return TestClient(create(tmp_path, "token"))


def test_faults_name_the_file_without_the_folders_of_this_machine(faulty: TestClient, tmp_path: Path) -> None:
    text = faulty.get("/b/loft/").text
    assert "100 mvolt" in text and "build.yaml, line" in text
    assert str(tmp_path) not in text


def test_a_file_with_a_fault_is_mended_on_the_page_of_its_parts(faulty: TestClient) -> None:
    assert 'href="/b/loft/parts"' in faulty.get("/b/loft/").text
    assert "/b/loft/part/charger" in faulty.get("/b/loft/parts").text
    assert "100 mvolt" in faulty.get("/b/loft/part/charger").text


@pytest.mark.parametrize("place", ["/home/a/b/build.yaml:7:3", r"C:\builds\b\build.yaml:7:3", "build.yaml:7:3"])
def test_a_finding_names_its_file_without_folders(place: str) -> None:
    found = Finding("it drops", "fails", "a part", why="why", place=place)
    assert view.told([found]).source == "build.yaml:7:3"


def test_what_stands_above_a_figure_is_its_title_as_plain_text() -> None:
    assert title_of('<svg><title id="t">5 &lt; 6 &amp; more</title><desc>d</desc></svg>') == "5 < 6 & more"
    assert title_of("<svg></svg>") == ""


def test_a_question_has_a_page_of_its_own_before_it_is_answered(faulty: TestClient) -> None:
    answer = faulty.get("/b/loft/question/drops")
    assert answer.status_code == 200
    assert "Not computed: the file has a fault." in answer.text




def test_forms_of_a_page_send_their_origin(faulty: TestClient) -> None:
    """Under ``no-referrer`` a browser sends ``Origin: null`` with a form, which the guard refuses."""
    assert '<meta name="referrer" content="same-origin">' in faulty.get("/").text
