"""Child of ``fuzz_driver``: make and judge mutants of one kind, a line of JSON for each.

By hand, to look into one mutant::

    PYTHONPATH=.:tests python tests/hostile/fuzz_child.py KIND SEED FIRST LAST+1 FOLDER
"""

from __future__ import annotations

import json
import random
import resource
import sys
import time
import traceback
import warnings
from pathlib import Path

#: Address space of the child: a file that asks for more than this is refused by the
#: program or ends in a MemoryError, which counts as a failure [bytes].
MEMORY = 6 * 1024**3


def say(**words: object) -> None:
    print(json.dumps(words), flush=True)


def listing(folder: Path) -> list[tuple[str, int]]:
    return sorted(
        (str(p.relative_to(folder)), p.stat().st_size) for p in folder.rglob("*") if p.is_file()
    )


def message_faults(err: Exception, kind: object, path: Path) -> str:
    """What is wrong with a refusal, or nothing."""
    text = str(err)
    if err.exit_code != kind.exit_code:  # type: ignore[attr-defined]
        return f"exit code {err.exit_code}: {text}"  # type: ignore[attr-defined]
    if path.stem.split(".")[0] not in text:
        return f"the message does not name the file: {text}"
    if len(text) > 20_000 or any(len(line) > 2000 for line in text.splitlines()):
        return f"the message is endless: {text[:300]}"
    if "Traceback" in text or not all(c.isprintable() or c == "\n" for c in text):
        return f"the message is not plain words: {text!r}"
    return ""


def main() -> None:
    kind_name, seed, first, last, folder_name = sys.argv[1:]
    # Warnings are noise on the user's screen, and most of them hide a fault.
    warnings.simplefilter("error")
    warnings.filterwarnings("ignore", "numpy.(ndarray|dtype) size changed", RuntimeWarning)
    from fuzz_kinds import KINDS

    from passage.errors import PassageError

    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    folder = Path(folder_name)
    kind = KINDS[kind_name](folder)
    kind.warm()
    say(what="ready", cpu_s=time.process_time())
    data = folder / "data"
    for i in range(int(first), int(last)):
        chance = random.Random(f"{kind_name} {seed} {i}")
        data.mkdir(exist_ok=True)
        say(what="begin", i=i)
        started, used_s = time.monotonic(), time.process_time()
        text = label = ""
        try:
            path, label = kind.make(chance, data)
            before = listing(data)
            try:
                verdict = kind.judge(path)
            except PassageError as err:
                verdict = "refused"
                text = kind.refused(err) or message_faults(err, kind, path)
            if text:
                verdict = "fail"
            elif listing(data) != before:
                verdict, text = "fail", f"files changed: {before} {listing(data)}"
        except Exception:
            verdict, text = "fail", traceback.format_exc()[-1800:]
        say(what=verdict, i=i, s=time.monotonic() - started,
            cpu_s=time.process_time() - used_s, label=label, text=text)  # fmt: skip
        for leftover in sorted(data.rglob("*"), reverse=True):
            leftover.rmdir() if leftover.is_dir() else leftover.unlink()


if __name__ == "__main__":
    main()
