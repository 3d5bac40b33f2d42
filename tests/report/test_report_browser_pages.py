"""Real pages in a real browser: the verdict at a glance, every figure read, nothing overlaps.

Needs Debian's packages chromium and chromium-driver.
"""

from __future__ import annotations

import base64
import json
import re
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hindcast_maker import make_hindcast
from page_probes import CONTRAST
from review_logs import csv_of, rows_of

from passage.api.times import utc_seconds
from passage.inputs.records.plan_file import read_plan
from passage.inputs.records.recording import read_recording
from passage.planning.compare.compare import CompareOptions
from passage.planning.compare.files import CompareFiles, Wanted, compare_files
from passage.planning.heel.heel import HeelPrices, heel_files
from passage.planning.plan.plan import PlanOptions, plan_files
from passage.planning.plan.result import PlannedPassage
from passage.planning.review.review import Review, review
from passage.planning.season.season import run_season
from passage.planning.season.setup import SeasonFiles, SeasonOptions
from passage.planning.suggest.files import SearchFiles, suggest_files
from passage.planning.suggest.search import SearchOptions
from passage.report.files.plan_json import plan_json
from passage.report.pages.compare import compare_page
from passage.report.pages.heel import heel_page
from passage.report.pages.plan import plan_page
from passage.report.pages.review import review_page
from passage.report.pages.season import season_page
from passage.report.pages.sheet import MOST_LEGS, sheet_page
from passage.report.pages.suggest import suggest_page

pytestmark = pytest.mark.browser

if shutil.which("chromium") is None or shutil.which("chromedriver") is None:
    pytest.skip("chromium and chromedriver are not installed", allow_module_level=True)

webdriver = pytest.importorskip("selenium.webdriver", reason="selenium is not installed")

SAMPLES = Path(__file__).parents[2] / "sample_forecasts"
SPRING = tuple(SAMPLES / f"spring_{part}.nc" for part in ("waves", "wind", "current"))
ROUTES = tuple(SAMPLES / f"{name}.csv" for name in ("straight", "outside", "inside"))
START_S = 1779264000.0  # 2026-05-20T08:00Z
HOUR = 3600.0
FLAGS = (
    "--headless=new",
    "--no-sandbox",
    "--disable-gpu",
    "--hide-scrollbars",
    "--disable-dev-shm-usage",
    "--disable-background-networking",
    "--host-resolver-rules=MAP * ~NOTFOUND",
)
PAGES = ("compare", "heel", "plan", "review", "season", "sheet", "suggest")
CHARTED = ("compare", "heel", "plan", "review", "season", "suggest")

#: Words of drawings that lie over one another, by pairs, with the overlap's area in px2.
OVERLAPS = """
var found = [];
document.querySelectorAll('figure svg[role=img]').forEach(function (svg) {
  if (!svg.getClientRects().length) { return; }
  var words = Array.from(svg.querySelectorAll('text')).map(function (t) {
    var b = t.getBoundingClientRect();
    // A line box is taller than its letters.
    return { t: t.textContent, l: b.left, r: b.right, a: b.top + 0.18 * b.height,
             b: b.bottom - 0.18 * b.height };
  }).filter(function (w) { return w.r > w.l; });
  words.forEach(function (one, i) {
    words.slice(i + 1).forEach(function (two) {
      var x = Math.min(one.r, two.r) - Math.max(one.l, two.l);
      var y = Math.min(one.b, two.b) - Math.max(one.a, two.a);
      if (x > 1 && y > 1) { found.push([one.t, two.t, Math.round(x * y)]); }
    });
  });
});
return found;
"""


@pytest.fixture(scope="module")
def urls(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    vessel = SAMPLES / "brambling_may.toml"
    options = CompareOptions(
        tuple(START_S + 6.0 * HOUR * i for i in range(7)), (11.0, 12.0),
        arrive_by_s=START_S + 42.5 * HOUR, minutes=40.0,
    )  # fmt: skip
    found = compare_files(CompareFiles(ROUTES, vessel, SPRING), options, Wanted(map_times=6))
    plan = plan_files(
        SAMPLES / "outside.csv", vessel, SPRING,
        PlanOptions(START_S + 12.0 * HOUR, speed_kn=10.0, weighting=True), map_times=6,
    )  # fmt: skip
    heel = heel_files(
        SAMPLES / "western.csv", SAMPLES / "brambling.toml", sorted(SAMPLES.glob("biscay_*.nc")),
        PlanOptions(utc_seconds("2026-03-14T06:00Z")), HeelPrices(),
    )  # fmt: skip
    suggestion = suggest_files(
        SearchFiles(ROUTES[0], vessel, SPRING),
        SearchOptions(START_S + 18.0 * HOUR, 12.0, cell_nm=40.0), map_times=6,
    )  # fmt: skip
    folder = tmp_path_factory.mktemp("pages")
    past = make_hindcast(folder / "hindcast_2023.nc")
    season = run_season(
        SeasonFiles(tuple(map(str, ROUTES[:2])), str(vessel), (str(past),)),
        SeasonOptions(1672531200.0, 1704067200.0, 73.0, speeds_kn=(10.0, 12.0)),
        folder / "odds",
    )
    made = {
        "compare": compare_page(found),
        "heel": heel_page(heel),
        "plan": plan_page(plan),
        "review": review_page(reviewed(plan, folder)),
        "season": season_page(season),
        "sheet": sheet_page(plan),
        "suggest": suggest_page(suggestion),
    }
    for name, text in made.items():
        (folder / f"{name}.html").write_text(text, "utf-8")
        assert len(text.encode()) < 1_500_000
    return {name: (folder / f"{name}.html").as_uri() for name in made}


def reviewed(plan: PlannedPassage, folder: Path) -> Review:
    """A log of the plan that burnt more and rolled more."""
    planned, log = folder / "plan.json", folder / "log.csv"
    planned.write_text(plan_json(plan), "utf-8")
    rows = rows_of(json.loads(planned.read_text("utf-8")))
    for row in rows:
        row["fuel_l_per_h"] *= 1.1
        row["roll_rms_deg"] *= 1.15
    log.write_text(csv_of(rows), "utf-8")
    return review(read_recording(log), read_plan(planned))


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    options = webdriver.ChromeOptions()
    options.binary_location = shutil.which("chromium")
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as profile:
        for flag in (*FLAGS, f"--user-data-dir={profile}"):
            options.add_argument(flag)
        options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
        service = webdriver.ChromeService(shutil.which("chromedriver"))
        driver = webdriver.Chrome(options=options, service=service)
        try:
            yield driver
        finally:
            driver.quit()


def opened(browser: Any, url: str, width: int, height: int, scheme: str = "light") -> None:
    browser.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride",
        {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": False},
    )
    coloured(browser, scheme)
    browser.get(url)


def coloured(browser: Any, scheme: str) -> None:
    """Day or night, as the system has it."""
    browser.execute_cdp_cmd(
        "Emulation.setEmulatedMedia",
        {"features": [{"name": "prefers-color-scheme", "value": scheme}]},
    )


@pytest.mark.parametrize("size", [(1280, 800), (390, 844)])
@pytest.mark.parametrize("name", PAGES)
def test_the_verdict_is_on_the_first_screen(
    browser: Any, urls: dict[str, str], name: str, size: tuple[int, int]
) -> None:
    opened(browser, urls[name], *size)
    for scheme in ("light", "dark"):
        coloured(browser, scheme)
        bottom = browser.execute_script(
            "return document.getElementById('verdict').getBoundingClientRect().bottom"
        )
        assert bottom <= size[1]
        assert browser.execute_script("return document.documentElement.scrollWidth") <= size[0]
    if name == "compare":
        assert "combinations" in browser.find_element("id", "verdict").text


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("name", PAGES)
def test_text_has_contrast(browser: Any, urls: dict[str, str], name: str, scheme: str) -> None:
    opened(browser, urls[name], 1280, 900, scheme)
    browser.execute_script("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    seen, low = browser.execute_script(CONTRAST)
    assert seen > 50
    assert low == []


@pytest.mark.parametrize("name", PAGES)
def test_every_heading_says_what_it_means(browser: Any, urls: dict[str, str], name: str) -> None:
    opened(browser, urls[name], 1280, 900)
    bare = browser.execute_script(
        "return Array.from(document.querySelectorAll('thead th'))"
        ".filter(h => h.textContent.trim() && !h.title).map(h => h.textContent)"
    )
    assert bare == []


def test_a_tapped_heading_says_what_it_means(browser: Any, urls: dict[str, str]) -> None:
    from selenium.webdriver.common.keys import Keys

    opened(browser, urls["review"], 390, 844)
    heading = browser.find_element("css selector", ".body > .scroll thead th:nth-child(2)")
    meaning = heading.get_attribute("title")
    browser.execute_script("document.documentElement.style.scrollBehavior = 'auto'")
    browser.execute_script("arguments[0].scrollIntoView({block: 'center'})", heading)
    heading.click()
    assert meaning in browser.find_element("css selector", "p.said").text
    # The keyboard opens the list of all of them.
    fold = browser.find_element("css selector", ".body > .meant > summary")
    listed = browser.find_element("css selector", ".body > .meant li:nth-child(2)")
    assert not listed.is_displayed()
    fold.send_keys(Keys.ENTER)
    assert meaning in listed.text


@pytest.mark.parametrize("width", [390, 1280])
@pytest.mark.parametrize("name", CHARTED)
def test_no_word_of_a_drawing_lies_over_another(
    browser: Any, urls: dict[str, str], name: str, width: int
) -> None:
    opened(browser, urls[name], width, 844)
    browser.execute_script(
        "document.querySelectorAll('details.fold').forEach(d => { d.open = true; })"
    )
    assert browser.execute_script(OVERLAPS) == []


@pytest.mark.parametrize("name", CHARTED)
def test_every_figure_is_read_by_keyboard_and_by_pointer(
    browser: Any, urls: dict[str, str], name: str
) -> None:
    from selenium.webdriver.common.action_chains import ActionChains
    from selenium.webdriver.common.keys import Keys

    opened(browser, urls[name], 1280, 900)
    browser.execute_script(
        "document.querySelectorAll('details.fold').forEach(d => { d.open = true; })"
    )
    # A scroll still under way would move the figure from under the pointer.
    browser.execute_script("document.documentElement.style.scrollBehavior = 'auto'")
    figures = browser.find_elements("css selector", "figure")
    read = 0
    for figure in figures:
        outs = figure.find_elements("css selector", ".readout")
        if not outs:
            continue
        before = outs[0].text
        figure.send_keys(Keys.ARROW_RIGHT)
        by_key = outs[0].text
        assert by_key != before
        assert re.search(r"\d", by_key)
        drawing = next(s for s in figure.find_elements("css selector", "svg[role=img]")
                       if s.is_displayed())  # fmt: skip
        mark = drawing.find_elements("css selector", "[data-read]")
        target = mark[-1] if mark else drawing
        browser.execute_script("arguments[0].scrollIntoView({block: 'center'})", target)
        pointed = set()
        for off in (0,) if mark else (-150, 150):
            ActionChains(browser).move_to_element_with_offset(target, off, 0).perform()
            pointed.add(outs[0].text)
            assert re.search(r"\d", outs[0].text)
        # Where there is one mark only the key may have read the same.
        assert pointed - {by_key, before}
        read += 1
    assert read >= (2 if name == "review" else 3)
    # Charts without a reading of their own have their figures in words beneath.
    assert read >= len(figures) - 1


def test_strips_and_map_show_the_same_moment(browser: Any, urls: dict[str, str]) -> None:
    from selenium.webdriver.common.keys import Keys

    opened(browser, urls["plan"], 1280, 900)
    strip = browser.find_element("css selector", "figure[data-axis]")
    place = "return document.querySelector('.map .wide .now').getAttribute('cy')"
    strip.send_keys(Keys.ARROW_RIGHT)
    first = float(browser.execute_script(place))
    strip.send_keys(*[Keys.ARROW_RIGHT] * 30)
    assert float(browser.execute_script(place)) > first  # she goes south
    cursors = browser.find_elements("css selector", "figure[data-link=way] .wide path.cursor")
    marks = {re.match(r"M([\d.]+)", c.get_attribute("d")).group(1) for c in cursors}
    assert len(marks) == 1
    frames = [f.is_displayed() for f in browser.find_elements("css selector", ".mapframe")]
    assert frames.count(True) == 1
    assert not frames[0]


def test_a_departure_marks_its_combinations(browser: Any, urls: dict[str, str]) -> None:
    from selenium.webdriver.common.keys import Keys

    opened(browser, urls["compare"], 1280, 900)
    window = browser.find_element("css selector", "figure[data-link=leave][data-axis]")
    window.send_keys(Keys.ARROW_RIGHT, Keys.ARROW_RIGHT)
    same = browser.execute_script(
        "return Array.from(document.querySelectorAll('.wide .same'), e => e.dataset.at)"
    )
    assert len(set(same)) == 1
    assert len(same) >= 2


def test_the_map_zooms_pans_and_keeps_the_size_of_words(browser: Any, urls: dict[str, str]) -> None:
    opened(browser, urls["plan"], 1280, 900)
    figure = browser.find_element("css selector", "figure.map")
    box = "return document.querySelector('.map .wide svg').getAttribute('viewBox')"
    tall = "return document.querySelector('.map .wide text.height').getBoundingClientRect().height"
    whole, before = browser.execute_script(box), browser.execute_script(tall)
    figure.send_keys("+")
    near = browser.execute_script(box)
    assert float(near.split()[2]) < float(whole.split()[2])
    assert browser.execute_script(tall) == pytest.approx(before, rel=0.1)
    figure.send_keys("0")
    assert [float(v) for v in browser.execute_script(box).split()] == pytest.approx(
        [float(v) for v in whole.split()], rel=1e-6
    )


@pytest.mark.parametrize(
    ("name", "most"),
    [("compare", 4), ("heel", 4), ("review", 2), ("season", 5), ("sheet", 1), ("suggest", 3)],
)
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_printed_sheets(
    browser: Any, urls: dict[str, str], name: str, most: int, scheme: str
) -> None:
    opened(browser, urls[name], 1280, 900, scheme)
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})
    printed = browser.execute_cdp_cmd(
        "Page.printToPDF", {"preferCSSPageSize": True, "printBackground": True}
    )
    data = base64.b64decode(printed["data"])
    sheets = len(re.findall(rb"/Type\s*/Page\b", data))
    assert 1 <= sheets <= most


def test_the_sheet_of_a_long_route_is_one_page(
    browser: Any, urls: dict[str, str], tmp_path: Path
) -> None:
    """Eight rows of the longest words, which is as much as a sheet ever holds."""
    text = Path(urls["sheet"].removeprefix("file://")).read_text("utf-8")
    bodies = re.findall(r"<tbody>.*?</tbody>", text, re.S)
    long = max(bodies, key=len)
    filled = text.replace("".join(bodies), "@@")
    if "@@" not in filled:
        start, end = text.index("<tbody>"), text.rindex("</tbody>") + len("</tbody>")
        filled = text[:start] + "@@" + text[end:]
    items = "".join(
        f"<li><b>Legs 3 to 17:</b> {'words and more words ' * 8}</li>" for _ in range(6)
    )
    filled = re.sub(r"<ul>.*?</ul>", f"<ul>{items}</ul>", filled, flags=re.S)
    filled = filled.replace('<body class="few">', '<body class="many">')
    target = tmp_path / "long.html"
    target.write_text(filled.replace("@@", long * MOST_LEGS), "utf-8")
    opened(browser, target.as_uri(), 1280, 900)
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})
    printed = browser.execute_cdp_cmd("Page.printToPDF", {"preferCSSPageSize": True})
    assert len(re.findall(rb"/Type\s*/Page\b", base64.b64decode(printed["data"]))) == 1


@pytest.mark.parametrize("name", PAGES)
def test_no_console_error_and_no_request_on_any_page(
    browser: Any, urls: dict[str, str], name: str
) -> None:
    opened(browser, urls[name], 1280, 900)
    browser.get_log("performance")
    browser.get_log("browser")
    opened(browser, urls[name], 1280, 900)
    assert browser.get_log("browser") == []
    asked = set()
    for entry in browser.get_log("performance"):
        message = json.loads(entry["message"])["message"]
        if message["method"] == "Network.requestWillBeSent":
            asked.add(message["params"]["request"]["url"])
    assert {url for url in asked if not url.startswith(("chrome:", "data:"))} == {urls[name]}
