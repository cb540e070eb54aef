"""The manual inside the screen: pages, pictures, links between them, and nothing else."""

import re
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from tideover.web.app import create
from tideover.web.pages.manual import address, folder, page

PAGES = sorted(f.relative_to(folder()).as_posix() for f in folder().rglob("*.md"))


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> TestClient:
    return TestClient(create(tmp_path_factory.mktemp("empty"), "token"))


@pytest.mark.parametrize(
    ("link", "inside", "there"),
    [
        ("glossary.md", "", "/manual/glossary"),
        ("../glossary.md#signs", "answers", "/manual/glossary#signs"),
        ("README.md", "parts", "/manual/parts/README"),
        ("pictures/sheet.png", "", "/manual/pictures/sheet.png"),
        ("#where-files-go", "", "#where-files-go"),
        ("https://example.org/a", "", "https://example.org/a"),
        ("../CONTRIBUTING.md", "", None),
        ("build-file.schema.json", "", None),
        ("javascript:alert(1)", "", None),
        ("//example.org/a.md", "", None),
        ("/etc/a.md", "", None),
    ],
)
def test_links_lead_to_pages_of_the_screen_or_stay_words(link: str, inside: str, there: str | None) -> None:
    assert address(link, inside) == there


def test_what_leads_elsewhere_stays_as_words() -> None:
    shown = page("See [how to help](../CONTRIBUTING.md) and ![a plan](plan.svg).", "")
    assert "<a" not in shown and "<img" not in shown
    assert "how to help" in shown and "a plan" in shown


def test_comments_are_left_out_and_markup_is_shown_as_text() -> None:
    shown = page("<!-- help of all -->\n\n<b>x</b>\n", "")
    assert "help of all" not in shown and "&lt;b&gt;" in shown


def test_every_link_of_every_page_leads_somewhere(client: TestClient) -> None:
    known: dict[str, str] = {}
    for name in PAGES:
        there = f"/manual/{name.removesuffix('.md')}"
        answer = client.get(there)
        assert answer.status_code == 200, name
        known[there] = answer.text
    for there, text in known.items():
        for link in re.findall(r'<a href="(/manual/[^"]*|#[^"]*)"', text.partition("<article>")[2]):
            path, _, anchor = link.partition("#")
            assert path in known or not path, f"{there}: {link}"
            assert not anchor or f'id="{anchor}"' in known[path or there], f"{there}: {link}"
        for picture in re.findall(r'<img src="([^"]*)"', text):
            answer = client.get(picture)
            assert (answer.status_code, answer.headers["content-type"]) == (200, "image/png"), f"{there}: {picture}"


@pytest.mark.parametrize(
    "asked",
    ["replay.py", "build-file.schema.json", "%2e%2e/README.md", "..%2fpyproject.toml", "nothing", "a.b.md"],
)
def test_nothing_else_is_served(client: TestClient, asked: str) -> None:
    answer = client.get(f"/manual/{asked}")
    assert answer.status_code == 404
    assert "no page" in answer.text or "Not" in answer.text


def test_a_link_out_of_the_folder_is_not_followed(
    client: TestClient, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    outside = tmp_path / "secret.md"
    outside.write_text("secret", encoding="utf-8")
    inside = tmp_path / "docs"
    inside.mkdir()
    (inside / "page.md").symlink_to(outside)
    monkeypatch.setattr("tideover.web.pages.manual.folder", lambda: inside)
    assert client.get("/manual/page").status_code == 404
