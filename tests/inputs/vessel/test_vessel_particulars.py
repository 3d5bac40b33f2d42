"""The commented vessel file the program writes, and its message for a bad one."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

import passage.inputs.vessel
from passage.cli.particulars import command
from passage.errors import OutputError
from passage.inputs.vessel import read_vessel, vessel_from_text
from passage.inputs.vessel.schema import VesselFile

ROOT = Path(__file__).parents[3]
# Beside the code that runs: in the source folder, or in the installed wheel.
SOURCE = Path(passage.inputs.vessel.__file__).parent / "particulars.toml"
SAMPLE = ROOT / "sample_forecasts" / "brambling.toml"


def run(*args):
    return CliRunner().invoke(command, [str(arg) for arg in args])


def test_the_sample_is_the_file_that_the_template_is_made_from():
    assert SOURCE.read_text(encoding="utf-8") == SAMPLE.read_text(encoding="utf-8")
    assert read_vessel(SAMPLE).warnings == ()


def test_every_section_and_key_of_the_hull_is_shown():
    text = run().stdout
    for section in VesselFile.model_fields:
        if section != "forecast_names":
            assert f"[{section}" in text
    for key in VesselFile.model_fields["vessel"].annotation.model_fields:
        assert f"{key} =" in text, key
    for key in VesselFile.model_fields["roll"].annotation.model_fields:
        assert f"{key} =" in text, key


def test_commented_keys_can_be_taken_out_of_their_comments():
    # A crew deletes the "# " before a key: that must be valid too.
    lines = []
    for line in SAMPLE.read_text(encoding="utf-8").splitlines():
        bare = line.removeprefix("# ")
        key = bare.split(" = ")[0]
        optional = line.startswith("# ") and " = " in bare and key.isidentifier()
        lines.append(bare if optional and key not in ("brake_power_kw", "sections") else line)
    for section in ("[standing]", "[forecast_names]"):
        lines = [line.replace(f"# {section}", section) for line in lines]
    vessel = vessel_from_text("\n".join(lines) + "\n")
    assert vessel.fins[0].sweep_deg == 10.0
    assert vessel.forecast_names
    assert vessel.standing.lists_deg == (1.5, -1.0)


def test_file_is_not_replaced_without_force(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text("mine", encoding="utf-8")
    assert isinstance(run("-o", path).exception, OutputError)
    assert path.read_text(encoding="utf-8") == "mine"
    assert run("-o", path, "--force").exit_code == 0
    assert path.read_text(encoding="utf-8") == run().stdout


def test_schema_is_json():
    schema = json.loads(run("--schema").stdout)
    assert schema["title"] == "passage vessel file"


@pytest.mark.parametrize("content", ["gm_m = 1,0\n", "[vessel]\ngm = 1\n", ""])
def test_bad_vessel_file_ends_in_a_message_and_code_3(tmp_path, content):
    record = tmp_path / "decay.csv"
    record.write_text("time_s,roll_deg\n", encoding="utf-8")
    bad = tmp_path / "bad.toml"
    bad.write_text(content, encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-c", "from passage.cli.main import main; main()",
         "decay", str(record), "--vessel", str(bad)],
        cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 3
    assert "Traceback" not in done.stderr
    assert str(bad) in done.stderr
    assert done.stdout == ""


def test_commented_sections_make_a_hull():
    lines = SAMPLE.read_text(encoding="utf-8").splitlines()
    first = next(i for i, line in enumerate(lines) if line.startswith("# sections = ["))
    last = next(i for i, line in enumerate(lines) if line == "# ]")
    lines[first : last + 1] = [line.removeprefix("# ") for line in lines[first : last + 1]]
    vessel = vessel_from_text("\n".join(lines) + "\n")
    assert len(vessel.particulars.sections) == 5
    assert vessel.particulars.sections[2].area_m2 == 21.0
