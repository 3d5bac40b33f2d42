"""The page in a real browser: nothing fails, nothing leaves, everything can be read.

Needs Debian's packages chromium and chromium-driver.
"""

from __future__ import annotations

import base64
import importlib.util
import json
import re
import shutil
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from page_probes import CONTRAST

pytestmark = pytest.mark.browser

if shutil.which("chromium") is None or shutil.which("chromedriver") is None:
    pytest.skip("chromium and chromedriver are not installed", allow_module_level=True)

webdriver = pytest.importorskip("selenium.webdriver", reason="selenium is not installed")

FLAGS = (
    "--headless=new",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
    "--hide-scrollbars",
)
OWN = "--host-resolver-rules=MAP * ~NOTFOUND"


@pytest.fixture(scope="module")
def page_url(tmp_path_factory: pytest.TempPathFactory) -> str:
    path = Path(__file__).parents[1] / "report_page_maker.py"
    spec = importlib.util.spec_from_file_location("report_page_maker", path)
    assert spec is not None
    assert spec.loader is not None
    maker = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(maker)
    target = tmp_path_factory.mktemp("page") / "page.html"
    target.write_text(maker.page(maker.HOSTILE), "utf-8")
    return target.as_uri()


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    options = webdriver.ChromeOptions()
    options.binary_location = shutil.which("chromium")
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as profile:
        for flag in (*FLAGS, OWN, f"--user-data-dir={profile}"):
            options.add_argument(flag)
        options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
        service = webdriver.ChromeService(shutil.which("chromedriver"))
        driver = webdriver.Chrome(options=options, service=service)
        try:
            yield driver
        finally:
            driver.quit()


def opened(browser: Any, url: str, width: int = 1280, scheme: str = "light") -> None:
    browser.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride",
        {"width": width, "height": 900, "deviceScaleFactor": 1, "mobile": False},
    )
    browser.execute_cdp_cmd(
        "Emulation.setEmulatedMedia",
        {"features": [{"name": "prefers-color-scheme", "value": scheme}]},
    )
    browser.get(url)
    browser.execute_script("try { localStorage.clear(); } catch (e) { return; }")
    browser.get(url)


def theme(browser: Any) -> str:
    return browser.execute_script("return document.documentElement.dataset.theme")


def test_no_console_error_and_no_request(browser: Any, page_url: str) -> None:
    opened(browser, page_url)
    browser.get_log("performance")
    browser.get_log("browser")
    opened(browser, page_url)
    time.sleep(0.3)
    assert browser.get_log("browser") == []
    asked = set()
    for entry in browser.get_log("performance"):
        message = json.loads(entry["message"])["message"]
        if message["method"] == "Network.requestWillBeSent":
            asked.add((message["params"]["documentURL"], message["params"]["request"]["url"]))
    # The browser's own start page asks for its own parts; ours asks for nothing.
    ours = {url for page, url in asked if not page.startswith(("chrome:", "data:"))}
    assert ours == {page_url}
    assert "<script>" in browser.title


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [360, 1280])
def test_text_has_contrast_in_both_themes(
    browser: Any, page_url: str, scheme: str, width: int
) -> None:
    opened(browser, page_url, width, scheme)
    assert theme(browser) == {"light": "day", "dark": "night"}[scheme]
    browser.execute_script("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    seen, low = browser.execute_script(CONTRAST)
    assert seen > 500
    assert low == []


@pytest.mark.parametrize("width", [360, 390, 768, 1280])
def test_the_page_does_not_scroll_sideways(browser: Any, page_url: str, width: int) -> None:
    opened(browser, page_url, width)
    browser.execute_script("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    assert browser.execute_script("return document.documentElement.scrollWidth") <= width


def test_words_of_drawings_keep_their_size_on_a_telephone(browser: Any, page_url: str) -> None:
    opened(browser, page_url, 390)
    smallest = browser.execute_script(
        "return Math.min(...Array.from(document.querySelectorAll('.narrow svg text'), "
        "t => t.getBoundingClientRect().height).filter(h => h > 0))"
    )
    assert smallest >= 11.0


def test_theme_by_keyboard(browser: Any, page_url: str) -> None:
    from selenium.webdriver.common.keys import Keys

    opened(browser, page_url)
    assert theme(browser) == "day"
    body = browser.find_element("css selector", "body")
    body.send_keys(Keys.TAB)
    skip = browser.switch_to.active_element
    assert skip.get_attribute("class") == "skip"
    assert skip.rect["x"] >= 0  # seen once it has the focus
    skip.send_keys(Keys.TAB)
    button = browser.switch_to.active_element
    assert button.get_attribute("id") == "theme"
    outline = browser.execute_script("return getComputedStyle(document.activeElement).outlineStyle")
    assert outline != "none"
    button.send_keys(Keys.ENTER)
    assert theme(browser) == "night"
    assert button.get_attribute("aria-pressed") == "true"
    browser.get(page_url)
    assert theme(browser) == "night"  # a dark bridge stays dark
    browser.find_element("id", "theme").send_keys(Keys.SPACE)
    assert theme(browser) == "day"


def test_map_times_by_keyboard(browser: Any, page_url: str) -> None:
    from selenium.webdriver.common.keys import Keys

    opened(browser, page_url)
    frames = browser.find_elements("css selector", ".mapframe")
    assert [f.is_displayed() for f in frames] == [True, False, False]
    buttons = browser.find_elements("css selector", ".times button")
    buttons[2].send_keys(Keys.ENTER)
    assert [f.is_displayed() for f in frames] == [False, False, True]
    assert buttons[2].get_attribute("aria-current") == "true"


def test_read_out_by_arrow_keys_says_what_the_table_says(browser: Any, page_url: str) -> None:
    from selenium.webdriver.common.keys import Keys

    opened(browser, page_url)
    figure = browser.find_element("css selector", "figure[data-axis]")
    figure.send_keys(Keys.ARROW_RIGHT, Keys.ARROW_RIGHT)
    words = figure.find_element("css selector", ".readout").text
    cells = browser.execute_script(
        "return Array.from(arguments[0].querySelectorAll('tr[data-at]')[1].cells, "
        "c => c.textContent.trim())",
        figure,
    )
    assert len(cells) > 3
    for cell in cells:
        assert cell in words
    lines = browser.find_elements("css selector", ".wide path.cursor")
    assert sum(bool(line.get_attribute("d")) for line in lines) >= 4


def test_without_script_everything_is_shown(browser: Any, page_url: str) -> None:
    browser.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": True})
    try:
        browser.get(page_url)
        frames = browser.find_elements("css selector", ".mapframe")
        assert len(frames) == 3
        assert all(f.is_displayed() for f in frames)
        assert not browser.find_element("id", "theme").is_displayed()
    finally:
        browser.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": False})


def test_night_by_preference_without_script(browser: Any, page_url: str) -> None:
    opened(browser, page_url, scheme="dark")
    browser.execute_script("document.documentElement.removeAttribute('data-theme')")
    colour = browser.execute_script("return getComputedStyle(document.body).backgroundColor")
    assert colour == "rgb(0, 0, 0)"


def test_prints_by_day_on_a4(browser: Any, page_url: str) -> None:
    opened(browser, page_url, scheme="dark")
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    try:
        ink = browser.execute_script("return getComputedStyle(document.body).color")
        assert ink == "rgb(24, 34, 43)"
        hidden = browser.execute_script(
            "return Array.from(document.querySelectorAll('.mapframe'), "
            "f => getComputedStyle(f).display)"
        )
        assert hidden == ["block"] * 3
    finally:
        browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})
    printed = browser.execute_cdp_cmd(
        "Page.printToPDF", {"preferCSSPageSize": True, "printBackground": True}
    )
    data = base64.b64decode(printed["data"])
    boxes = {
        tuple(round(float(v)) for v in found.split())
        for found in re.findall(rb"/MediaBox \[([^\]]*)\]", data)
    }
    # A4 in points: 210 mm by 297 mm.
    assert {box[2:] for box in boxes} <= {(595, 842), (596, 842), (595, 841)}
