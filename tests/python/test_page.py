"""The page of the demo's review: whole, readable without pictures, quiet in a browser."""

import html.parser
import json
import os
import re
import shutil
import subprocess
from pathlib import Path

import pytest

import glycemic as gly

DEMO = Path(__file__).parents[2] / "examples" / "demo_trial"
FLAGS = (
    "--headless --no-sandbox --disable-gpu --disable-background-networking --disable-component-update "
    "--disable-sync --no-first-run --enable-logging=stderr --v=0"
).split()


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    path = tmp_path_factory.mktemp("page") / "review.html"
    gly.Trial.read(DEMO).review(seed=1).save(path)
    return path


@pytest.fixture(scope="module")
def chromium():
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    if not found:
        assert not os.environ.get("REQUIRE_BROWSER"), "a browser is required here"
        pytest.skip("no chromium")
    return found


def run(chromium, tmp_path, *arguments):
    command = [chromium, *FLAGS, f"--user-data-dir={tmp_path / 'profile'}", *arguments]
    return subprocess.run(command, capture_output=True, text=True, timeout=180)


class Reader(html.parser.HTMLParser):
    def __init__(self):
        super().__init__()
        self.ids, self.figures, self.tables, self.loads = [], 0, 0, []

    def handle_starttag(self, tag, attributes):
        attributes = dict(attributes)
        if "id" in attributes:
            self.ids.append(attributes["id"])
        self.figures += tag == "figure"
        self.tables += tag == "table"
        for key in ("src", "href", "xlink:href"):
            if attributes.get(key):
                self.loads.append(attributes[key])


def test_the_page_is_whole_and_self_contained(page):
    text = page.read_text(encoding="utf-8")
    reader = Reader()
    reader.feed(text)
    answers = json.loads(gly.Trial.read(DEMO).review(seed=1).to_json())["answers"]
    assert [a["id"] for a in answers] == [i for i in reader.ids if i in {a["id"] for a in answers}]
    assert len(reader.ids) == len(set(reader.ids)), "ids must be unique"
    assert all(load.startswith(("#", "data:")) for load in reader.loads), reader.loads
    assert reader.figures >= 6 and reader.tables >= reader.figures
    assert text.count('role="img"') == reader.figures
    for caution in json.loads(gly.Trial.read(DEMO).review(seed=1).to_json())["cautions"]:
        assert caution["text"].split(":")[0] in text
    assert len(text) < 2_000_000
    assert "nan" not in re.findall(r"<td>(nan|inf|-inf|None)</td>", text)


def test_the_same_review_gives_the_same_page(page, tmp_path):
    again = tmp_path / "again.html"
    gly.Trial.read(DEMO).review(seed=1).save(again)
    assert again.read_bytes() == page.read_bytes()


def test_a_browser_opens_it_without_an_error(page, chromium, tmp_path):
    done = run(chromium, tmp_path, "--dump-dom", page.as_uri())
    assert done.returncode == 0
    assert "</footer>" in done.stdout
    said = [line for line in done.stderr.splitlines() if "CONSOLE" in line or "Uncaught" in line]
    assert not said, said


def test_it_prints_with_every_section_filled(page, chromium, tmp_path):
    pdf = tmp_path / "review.pdf"
    done = run(chromium, tmp_path, f"--print-to-pdf={pdf}", "--no-pdf-header-footer", page.as_uri())
    assert done.returncode == 0 and pdf.read_bytes().startswith(b"%PDF")
    if shutil.which("pdftotext"):
        text = subprocess.run(["pdftotext", str(pdf), "-"], capture_output=True, text=True, check=True).stdout
        flat = " ".join(text.split())
        for answer in gly.Trial.read(DEMO).review(seed=1).to_dict()["answers"]:
            assert answer["question"].split("?")[0][:25] in flat, answer["question"]


def test_nothing_is_written_half(tmp_path):
    review = gly.Trial.read(DEMO).review(seed=1)
    with pytest.raises(OSError):
        review.save(tmp_path / "no" / "such" / "folder.html")
    assert not list(tmp_path.iterdir())
