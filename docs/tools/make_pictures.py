"""Make the pictures of the README from real pages; ``--check`` says whether they are stale.

Needs Debian's chromium and chromium-driver, selenium and pillow. Run from the project folder::

    python docs/tools/make_pictures.py [--check]

A picture is stale when the verdict of its page or the style sheet is no longer the one that was
photographed; ``pictures.json`` keeps their checksums. Litres, degrees and shares do not count:
a picture is not wrong because a formula moved a figure a little. ``--check`` needs no browser.
"""

from __future__ import annotations

import base64
import hashlib
import io
import json
import re
import runpy
import shutil
import sys
import tempfile
from pathlib import Path
from typing import Any

from click.testing import CliRunner

from passage.cli.main import group

FOLDER = Path("docs/pictures")
SAMPLES = Path("sample_forecasts")
FILES = ["--vessel", str(SAMPLES / "brambling_may.toml")]
for part in ("waves", "wind", "current"):
    FILES += ["--forecast", str(SAMPLES / f"spring_{part}.nc")]
#: Name, command, width and height of the window, width of the picture [px].
PICTURES: tuple[tuple[str, list[str], int, int, int], ...] = (
    (
        "compare",
        ["compare", *(str(SAMPLES / f"{r}.csv") for r in ("straight", "outside", "inside")), *FILES,
         "--from", "2026-05-20T08:00Z", "--to", "2026-05-21T20:00Z", "--every", "6",
         "--speed", "11", "--speed", "12", "--arrive-by", "2026-05-22T04:00Z", "--format", "html"],
        1280, 1280, 520,
    ),
    (
        "plan",
        ["plan", str(SAMPLES / "outside.csv"), *FILES, "--departure", "2026-05-20T20:00Z",
         "--speed", "11", "--format", "html"],
        1280, 1280, 520,
    ),
    (
        "sheet",
        ["plan", str(SAMPLES / "outside.csv"), *FILES, "--departure", "2026-05-20T20:00Z",
         "--speed", "11", "--format", "sheet"],
        1060, 1060, 520,
    ),
    (
        "heel",
        ["heel", str(SAMPLES / "outside.csv"), *FILES, "--departure", "2026-05-20T20:00Z",
         "--speed", "11", "--format", "html"],
        1280, 1280, 520,
    ),
    (
        "season",
        ["season", *(str(SAMPLES / f"{r}.csv") for r in ("straight", "outside")),
         "--vessel", str(SAMPLES / "brambling_may.toml"), "--from", "2021-05-01",
         "--to", "2022-09-28", "--every", "12", "--speed", "11", "--format", "html"],
        1280, 1280, 520,
    ),
)  # fmt: skip


def page(words: list[str], target: Path) -> None:
    """Write the page of a command; a season gets its hindcast first, and writes a folder."""
    if words[0] == "season":
        maker = runpy.run_path(str(SAMPLES / "make_years.py"))
        maker["make"](target.with_name("hindcast.nc"))
        for year in maker["YEARS"]:
            words = [*words, "--forecast", str(target.with_name(f"hindcast_{year}.nc"))]
        folder = target.with_name("season")
        page_in(words, folder)
        (folder / "season.html").replace(target)
        return
    page_in(words, target)


def page_in(words: list[str], target: Path) -> None:
    """Run a command with its output."""
    result = CliRunner().invoke(group, [*words, "-o", str(target)], standalone_mode=False)
    if result.exception:
        raise result.exception


def driver() -> Any:
    """A browser that reaches no network."""
    from selenium import webdriver

    options = webdriver.ChromeOptions()
    options.binary_location = shutil.which("chromium") or ""
    for flag in ("--headless=new", "--no-sandbox", "--disable-gpu", "--hide-scrollbars",
                 "--disable-dev-shm-usage", "--host-resolver-rules=MAP * ~NOTFOUND",
                 f"--user-data-dir={tempfile.mkdtemp()}"):  # fmt: skip
        options.add_argument(flag)
    service = webdriver.ChromeService(shutil.which("chromedriver"))
    return webdriver.Chrome(options=options, service=service)


def fingerprint(text: str) -> str:
    """Checksum of a page's verdict, quantities left out, and of its style sheet."""
    start = text.index('id="verdict"')
    end = min(at for tag in ("<nav", "</dl>", "<table") if (at := text.find(tag, start)) > 0)
    words = re.sub(r"<[^>]*>", " ", text[start:end])
    words = re.sub(r"\d[\d,.]*(?=\s*(?:l|deg|EUR|%|g|h)\b|\s*%)", "#", words)
    style = text[text.index("<style>") : text.index("</style>")]
    whole = " ".join(words.split()) + style
    return hashlib.sha256(whole.encode()).hexdigest()[:16]


def stale(folder: Path) -> list[str]:
    """Names of pictures whose pages, made anew in ``folder``, are no longer those shown."""
    old = json.loads((FOLDER / "pictures.json").read_text("utf-8"))
    found = []
    for name, words, *_ in PICTURES:
        target = folder / f"{name}.html"
        page(words, target)
        if fingerprint(target.read_text("utf-8")) != old.get(name):
            found.append(name)
    return found


def first_screen(browser: Any, url: str, width: int, height: int) -> bytes:
    """The picture of the first screen by day."""
    browser.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride",
        {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": False},
    )
    browser.execute_cdp_cmd(
        "Emulation.setEmulatedMedia",
        {"features": [{"name": "prefers-color-scheme", "value": "light"}]},
    )
    browser.get(url)
    made = browser.execute_cdp_cmd("Page.captureScreenshot", {"format": "png"})
    return base64.b64decode(made["data"])


def main() -> int:
    """Make or check; the number of stale pictures is the exit code."""
    with tempfile.TemporaryDirectory() as folder:
        if "--check" in sys.argv[1:]:
            old = stale(Path(folder))
            for name in old:
                sys.stderr.write(f"docs/pictures/{name}.png is stale: run make_pictures.py\n")
            return len(old)
        make(Path(folder))
    return 0


def make(folder: Path) -> None:
    """Photograph the pages and note what they show."""
    from PIL import Image

    new: dict[str, str] = {}
    browser = driver()
    try:
        for name, words, width, height, small in PICTURES:
            target = folder / f"{name}.html"
            page(words, target)
            new[name] = fingerprint(target.read_text("utf-8"))
            data = first_screen(browser, target.as_uri(), width, height)
            image = Image.open(io.BytesIO(data)).convert("RGB")
            image = image.resize((small, round(small * height / width)), Image.LANCZOS)
            image.quantize(200, method=Image.Quantize.FASTOCTREE).save(
                FOLDER / f"{name}.png", optimize=True
            )
    finally:
        browser.quit()
    (FOLDER / "pictures.json").write_text(json.dumps(new, indent=1) + "\n", "utf-8")


if __name__ == "__main__":
    sys.exit(main())
