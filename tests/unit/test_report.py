"""The report of a run or sweep is one whole page: its film plays, and nothing is fetched."""

import re
import shutil
from base64 import b64decode
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path

import pytest

from console import call
from sinkbowl.common.errors import ResultError
from sinkbowl.files.result import read_result
from sinkbowl.sweeps.index import Sweep, SweepRun, read_sweep, write_index
from sinkbowl_post.reference_curves.table import read_points
from sinkbowl_post.reporting.report import report
from sinkbowl_post.reporting.sweep_report import conclusion, mass_words, sweep_report
from synthetic import CASE_TEXT, edited, filling, write_faster_result, write_result

BROWSER, DRIVER = shutil.which("chromium"), shutil.which("chromedriver")
PHONE = (390, 844)  # px, common practice, no source
SWITCHES = (
    *("--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-sync"),
    *("--disable-background-networking", "--disable-component-update"),
)

HOLES = (20, 30, 40, 50)


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("report")
    report(read_result(write_result(folder / "run.h5", frames=4)), folder / "run.html")
    return folder / "run.html"


class Tags(HTMLParser):
    """Every tag of a page with its attributes."""

    def __init__(self, page: Path) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.feed(page.read_text(encoding="utf-8"))

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))


def whole(page: Path) -> None:
    """Every address is a data URL (RFC 2397): the page needs no network and no second file. Every
    picture has a text alternative: WCAG 2.1, success criterion 1.1.1 (from memory)."""
    tags = Tags(page).found
    for _, attrs in tags:
        for name in ("src", "href", "poster"):
            assert (attrs.get(name) or "data:").startswith("data:")
    assert not re.search(r"@import|url\(", page.read_text(encoding="utf-8"))
    pictures = [attrs for tag, attrs in tags if tag == "img"]
    assert len(pictures) == 3  # of a sweep: still, check, curves
    assert all(len(attrs["alt"] or "") > 40 for attrs in pictures)
    assert [bool(attrs["aria-label"]) for tag, attrs in tags if tag == "video"] == [True]


def test_nothing_on_the_page_lies_elsewhere_and_every_picture_has_a_text_alternative(page):
    whole(page)


def test_it_tells_the_time_the_case_and_the_health_of_the_run(page):
    text = page.read_text(encoding="utf-8")
    assert f"{filling(2).t[-1]:.2f}" in text
    assert "diameter = &#34;20 mm&#34;" in text
    assert "water lost or gained" in text
    assert "but heels while it fills" in text


@pytest.mark.slow
def test_it_tells_why_models_are_off_and_what_was_measured(tmp_path):
    """The run's own history replayed, and trials with one that is off."""
    table = tmp_path / "trials.csv"
    times = "".join(f"20,{time}\n" for time in (2.12, 2.15, 2.09, 21.4))
    table.write_text(f"hole [mm],time [s]\n{times}", encoding="utf-8")
    result = read_result(write_result(tmp_path / "run.h5", steps=60))
    report(result, tmp_path / "run.html", measured=table)
    text = (tmp_path / "run.html").read_text(encoding="utf-8")
    assert "measured, 4 trials" in text
    assert "Row 5, 21.4 s, is suspect" in text
    assert "Causes of each model's difference" in text
    assert '<th scope="col">quasi-static</th>' in text


def test_what_a_case_says_is_text_and_not_markup(tmp_path):
    """A title from a stranger's file runs no script in the reader's browser."""
    path = write_result(tmp_path / "run.h5", frames=2)
    with edited(path) as file:
        file.attrs["title"] = "<script>alert(1)</script>"
    report(read_result(path), tmp_path / "run.html")
    assert not [tag for tag, _ in Tags(tmp_path / "run.html").found if tag == "script"]


def test_a_wrong_name_is_refused_and_leaves_nothing(tmp_path):
    result = read_result(write_result(tmp_path / "run.h5"))
    with pytest.raises(ResultError, match=r"\.html"):
        report(result, tmp_path / "run.pdf")
    assert [file.name for file in tmp_path.iterdir()] == ["run.h5"]


def test_a_run_without_frames_has_a_report_without_a_film(tmp_path):
    result = read_result(write_result(tmp_path / "run.h5", frames=0))
    report(result, tmp_path / "run.html")
    assert not [tag for tag, _ in Tags(tmp_path / "run.html").found if tag == "video"]


@pytest.fixture(scope="module")
def browser() -> Iterator[object]:
    if not (BROWSER and DRIVER):
        pytest.skip("needs chromium and chromedriver (Debian: chromium, chromium-driver)")
    from selenium import webdriver

    options = webdriver.ChromeOptions()
    options.binary_location = BROWSER
    for switch in SWITCHES:
        options.add_argument(switch)
    driver = webdriver.Chrome(options, webdriver.ChromeService(DRIVER))
    yield driver
    driver.quit()


def test_the_film_plays_in_a_browser(page, browser):
    """HTML media: after play() the current time runs on."""
    browser.get(page.as_uri())
    film = "const film = document.querySelector('video');"
    played = browser.execute_async_script(
        film + "const done = arguments[0]; film.ontimeupdate = () => {"
        "if (film.currentTime > 0.05) done(film.currentTime) }; film.play()"
    )
    assert played > 0.05
    assert browser.execute_script(film + "return film.videoWidth") == 1920
    broken = "return [...document.images].filter(i => i.naturalWidth == 0).length"
    assert browser.execute_script(broken) == 0


def test_it_fits_a_phone(page, browser):
    """Nothing but the figures and tables in their own frames scrolls sideways."""
    browser.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride",
        {"width": PHONE[0], "height": PHONE[1], "deviceScaleFactor": 2, "mobile": True},
    )
    browser.get(page.as_uri())
    assert browser.execute_script("return document.documentElement.scrollWidth") <= PHONE[0]
    browser.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})


def test_it_prints_to_pdf(page, browser):
    """On paper the still stands for the film."""
    browser.get(page.as_uri())
    pdf = b64decode(browser.print_page())
    assert pdf.startswith(b"%PDF-")
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    shown = "return getComputedStyle(document.querySelector(arguments[0])).display"
    assert browser.execute_script(shown, "video") == "none"
    assert browser.execute_script(shown, ".still") == "block"
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Four made-up runs, and one that failed."""
    place = tmp_path_factory.mktemp("holes")
    runs = []
    for number, hole in enumerate(HOLES, start=1):
        write_faster_result(place / f"{number}.h5", f"{hole} mm", 0.1 * hole)
        words = (f"{hole} mm",)
        runs.append(SweepRun(f"{number}", f"{number}.h5", (1e-3 * hole,), words, "finished", 1.0))
    runs.append(SweepRun("5", "5.h5", (0.06,), ("60 mm",), "failed", reason="too wide"))
    write_index(Sweep(place, "Holes of a cup", CASE_TEXT, "", ("hole.diameter",), tuple(runs)))
    return place


@pytest.fixture(scope="module")
def sweep_page(folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("sweep_page") / "holes.html"
    sweep_report(read_sweep(folder), path)
    return path


@pytest.mark.slow
def test_nothing_lies_elsewhere_and_every_picture_has_words(sweep_page):
    whole(sweep_page)


@pytest.mark.slow
def test_it_tells_every_run_and_what_is_missing(sweep_page):
    text = sweep_page.read_text(encoding="utf-8")
    for hole in HOLES:
        assert f"<td>{hole} mm</td>" in text
    assert "4 of 5" in text
    assert re.search(r"not finished</th><td>5<", text)
    assert "20 mm, 30 mm, 50 mm" in text or "20 mm, 40 mm, 50 mm" in text  # in the film
    assert "diameter = &#34;20 mm&#34;" in text


@pytest.mark.slow
def test_the_command_takes_a_folder(folder, tmp_path):
    assert call("report", folder, "-o", tmp_path / "holes.html") == 0
    assert (tmp_path / "holes.html").stat().st_size > 10_000


@pytest.mark.slow
def test_a_folder_without_a_sweep_is_refused(tmp_path, refused):
    assert "sinkbowl sweep" in refused("report", tmp_path, "-o", tmp_path / "sweep_page.html")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.slow
def test_it_names_the_mass_and_concludes_before_a_folded_list(sweep_page):
    """200 g is what the synthetic case states."""
    text = sweep_page.read_text(encoding="utf-8")
    assert "4 bowls of 200 g" in text
    told, folded = text.index("From the narrowest hole, 20 mm"), text.index("<details>")
    assert told < folded < text.index("heave, m/", folded)


@pytest.mark.slow
def test_a_conclusion_has_three_sentences(folder):
    points, _ = read_points([folder])
    told = conclusion(points)
    assert len(re.findall(r"\.(?= |$)", told)) == 3
    assert "to the widest, 50 mm" in told


@pytest.mark.slow
def test_masses_are_told_as_a_range():
    assert mass_words([0.2, 0.2]) == "200 g"
    assert mass_words([0.24, 0.16]) == "160 to 240 g"
