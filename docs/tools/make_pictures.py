"""Make the pictures of the README from real pages; ``--check`` says whether they are stale.

Needs Debian's chromium and chromium-driver, selenium and pillow. Run from the project folder::

    python docs/tools/make_pictures.py [--check]

A picture is stale when the words of its page's first screen, or the style sheet, are no longer
those that were photographed; ``pictures.json`` keeps their checksums.
"""

from __future__ import annotations

import base64
import hashlib
import io
import json
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
         "--speed", "11", "--speed", "12", "--arrive-by", "2026-05-22T02:30Z", "--format", "html"],
        1280, 1280, 520,
    ),
    (
        "plan",
        ["plan", str(SAMPLES / "outside.csv"), *FILES, "--departure", "2026-05-20T18:00Z",
         "--speed", "10", "--format", "html"],
        1280, 1280, 520,
    ),
    (
        "sheet",
        ["plan", str(SAMPLES / "outside.csv"), *FILES, "--departure", "2026-05-20T18:00Z",
         "--speed", "10", "--format", "sheet"],
        1060, 1060, 520,
    ),
)  # fmt: skip


def page(words: list[str], target: Path) -> None:
    """Write the page of a command."""
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


def first_screen(browser: Any, url: str, width: int, height: int) -> tuple[bytes, str]:
    """The picture and the checksum of what it shows: its words and the style."""
    browser.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride",
        {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": False},
    )
    browser.execute_cdp_cmd(
        "Emulation.setEmulatedMedia",
        {"features": [{"name": "prefers-color-scheme", "value": "light"}]},
    )
    browser.get(url)
    words = browser.execute_script(
        "return document.getElementById('verdict').innerText + "
        "document.querySelector('style').textContent"
    )
    made = browser.execute_cdp_cmd("Page.captureScreenshot", {"format": "png"})
    return base64.b64decode(made["data"]), hashlib.sha256(words.encode()).hexdigest()[:16]


def main() -> int:
    """Make or check; the number of stale pictures is the exit code."""
    from PIL import Image

    check = "--check" in sys.argv[1:]
    record = FOLDER / "pictures.json"
    old = json.loads(record.read_text("utf-8")) if record.exists() else {}
    new: dict[str, str] = {}
    browser = driver()
    try:
        with tempfile.TemporaryDirectory() as folder:
            for name, words, width, height, small in PICTURES:
                target = Path(folder) / f"{name}.html"
                page(words, target)
                data, new[name] = first_screen(browser, target.as_uri(), width, height)
                if not check:
                    image = Image.open(io.BytesIO(data)).convert("RGB")
                    image = image.resize((small, round(small * height / width)), Image.LANCZOS)
                    image.quantize(200, method=Image.Quantize.FASTOCTREE).save(
                        FOLDER / f"{name}.png", optimize=True
                    )
    finally:
        browser.quit()
    stale = [name for name in new if new[name] != old.get(name)]
    if check:
        for name in stale:
            sys.stderr.write(f"docs/pictures/{name}.png is stale: run make_pictures.py\n")
        return len(stale)
    record.write_text(json.dumps(new, indent=1) + "\n", "utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
