"""Run only the tests that a change touches: ``python tests/touched.py [REVISION]``.

What counts as changed is everything since REVISION (HEAD when none is given), committed
or not. ``tests/`` mirrors ``passage/``, so a changed module brings the test files of its
folder that import it or carry its name; the architecture and documentation tests always
run, because they take seconds. Slow and browser tests are left to ``.ci/run``.
"""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
ALWAYS = ("tests/test_architecture.py", "tests/test_docs.py")


def changed(revision: str) -> list[Path]:
    """Files that differ from the revision, and new ones git does not ignore."""
    names: list[str] = []
    for command in (
        ["git", "diff", "--name-only", revision],
        ["git", "ls-files", "--others", "--exclude-standard"],
    ):
        run = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True)
        names += run.stdout.split("\n")
    return [Path(name) for name in names if name]


def tests_for(paths: list[Path]) -> list[str]:
    """Test files to run for these changed files, relative to the project."""
    found = {name for name in ALWAYS if (ROOT / name).exists()}
    tests = sorted((ROOT / "tests").rglob("test_*.py"))
    for path in paths:
        if path.parts[0] == "tests" and path.name.startswith("test_"):
            found.add(path.as_posix())
        elif path.parts[0] == "passage" and path.suffix == ".py":
            module = ".".join(path.with_suffix("").parts).removesuffix(".__init__")
            package, _, stem = module.rpartition(".")
            uses = re.compile(
                rf"{re.escape(module)}\b|from {re.escape(package)} import [^\n]*\b{stem}\b"
            )
            folder = ROOT / "tests" / path.parent.relative_to("passage")
            for test in tests:
                if test.parent == folder and (
                    test.stem.endswith(stem) or uses.search(test.read_text("utf-8"))
                ):
                    found.add(test.relative_to(ROOT).as_posix())
    return sorted(name for name in found if (ROOT / name).exists())


def main() -> int:
    """Run them; the exit code is pytest's."""
    revision = sys.argv[1] if len(sys.argv) > 1 else "HEAD"
    names = tests_for(changed(revision))
    print(f"{len(names)} test files: {' '.join(names)}", flush=True)
    command = [sys.executable, "-m", "pytest", "-q", "-x", "-m", "not slow and not browser", *names]
    return subprocess.run(command, cwd=ROOT, check=False).returncode


if __name__ == "__main__":
    sys.exit(main())
