"""What a run does not use is not imported: half a second here is half a second every time."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

SAMPLES = Path(__file__).parents[2] / "sample_forecasts"
#: Libraries and parts of them that a plan as a table has no use for.
UNUSED = ("scipy.interpolate", "scipy.optimize", "scipy.stats", "matplotlib", "dask", "jinja2")


def loaded_by(code: str) -> list[str]:
    code = f"import sys\n{code}\nprint('loaded', [m for m in {UNUSED!r} if m in sys.modules])"
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    words = run.stdout.splitlines()[-1]
    assert words.startswith("loaded ")
    return [name for name in UNUSED if f"'{name}'" in words]


def test_a_plan_imports_what_it_uses(tmp_path) -> None:
    words = ["plan", str(SAMPLES / "direct.csv"), "--vessel", str(SAMPLES / "brambling.toml")]
    for name in ("waves", "wind", "current"):
        words += ["--forecast", str(SAMPLES / f"biscay_{name}.nc")]
    words += ["--departure", "2026-03-14T06:00Z", "-o", str(tmp_path / "plan.txt")]
    words += ["--draws", "0"]  # the draws of the odds need scipy.stats
    code = f"from passage.cli.main import group\ngroup.main({words!r}, standalone_mode=False)"
    assert loaded_by(code) == []
    assert "Brambling: direct" in (tmp_path / "plan.txt").read_text(encoding="utf-8")
