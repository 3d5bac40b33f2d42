"""The examples of ``docs/python.md``, run in order as a reader would type them."""

from __future__ import annotations

import doctest
import re
import shutil
from pathlib import Path

ROOT = Path(__file__).parents[2]


def test_the_examples_of_the_page_work(tmp_path, monkeypatch) -> None:
    for path in (ROOT / "sample_forecasts").iterdir():
        if path.suffix in (".nc", ".csv", ".toml"):
            shutil.copy(path, tmp_path)
    monkeypatch.chdir(tmp_path)
    page = (ROOT / "docs" / "python.md").read_text(encoding="utf-8")
    code = "\n".join(re.findall(r"^```python\n(.*?)^```", page, flags=re.M | re.S))
    test = doctest.DocTestParser().get_doctest(code, {}, "python.md", "docs/python.md", 0)
    assert len(test.examples) > 20
    said: list[str] = []
    runner = doctest.DocTestRunner(optionflags=doctest.ELLIPSIS)
    outcome = runner.run(test, out=said.append, clear_globs=False)
    test.globs["sea"].close()
    assert outcome.failed == 0, "".join(said)
