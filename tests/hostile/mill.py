"""Throw many mutants of every kind in one process after another, and print the table of them.

A run that was stopped goes on where it was, when it is called with the same folder::

    PYTHONPATH=.:tests nice -n 19 python tests/hostile/mill.py 10000 2026-11-25 FOLDER

The table of ``docs/hostility.md`` is what it prints at the end, and what it prints with
0 mutants for those already thrown.
"""

from __future__ import annotations

import json
import sys
from collections import Counter
from pathlib import Path
from typing import Any

from fuzz_driver import hammer
from fuzz_kinds import SHARES

#: Mutants of one child: its imports and tables are paid once for them.
AT_ONCE = 300
BAD = ("fail", "crash", "hang")


def thrown(log: Path) -> dict[str, list[dict[str, Any]]]:
    """The results of every mutant of an earlier call, by kind."""
    said: dict[str, list[dict[str, Any]]] = {}
    if log.exists():
        for line in log.read_text().splitlines():
            one = json.loads(line)
            said.setdefault(one["kind"], []).append(one)
    return said


def throw(count: int, seed: str, folder: Path) -> None:
    """Mutants of every kind by its share, a part of each kind in turn."""
    log = folder / "said.jsonl"
    wanted = {kind: round(share * count) for kind, share in SHARES.items()}
    while True:
        done = {k: sum("i" in one for one in v) for k, v in thrown(log).items()}
        behind = [k for k in wanted if done.get(k, 0) < wanted[k]]
        if not behind:
            return
        kind = min(behind, key=lambda k: done.get(k, 0) / wanted[k])
        first = done.get(kind, 0)
        with log.open("a") as out:

            def record(said: dict[str, Any], kind: str = kind, out: Any = out) -> None:
                out.write(json.dumps({"kind": kind, **said}) + "\n")
                out.flush()

            last = min(first + AT_ONCE, wanted[kind])
            hammer(kind, last, folder / "run", seed, first=first, record=record)


def table(folder: Path) -> str:
    """What came of each kind, silently wrong first, and the computing time of it all."""
    rows = ["| silently wrong | kind | tried | faults | refused | accepted | told |"]
    rows.append("|---|---|---|---|---|---|---|")
    total: Counter[str] = Counter()
    used_s = start_s = 0.0
    for kind, said in thrown(folder / "said.jsonl").items():
        mutants = [one for one in said if "i" in one]
        counts = Counter(one["what"] for one in mutants)
        bad = sum(counts[word] for word in BAD)
        accepted = len(mutants) - bad - counts["refused"]
        row = (counts["silently wrong"], kind, len(mutants), bad, counts["refused"], accepted,
               counts["told"])  # fmt: skip
        rows.append("| " + " | ".join(map(str, row)) + " |")
        total.update({"tried": len(mutants), "faults": bad, "wrong": counts["silently wrong"]})
        used_s += sum(one.get("cpu_s", 0.0) for one in mutants)
        start_s += sum(one.get("cpu_s", 0.0) for one in said if "i" not in one)
    rows.append(
        f"\n{total['tried']} mutants, {total['faults']} faults, {total['wrong']} silently wrong; "
        f"{used_s:.0f} s of computing and {start_s:.0f} s of starting"
    )
    return "\n".join(rows)


def worst(folder: Path) -> str:
    """Every fault and every silent wrong in full."""
    lines = []
    for kind, said in thrown(folder / "said.jsonl").items():
        for one in said:
            if one["what"] in (*BAD, "silently wrong"):
                lines.append(f"{kind} {one['i']} {one['what']}: {one['label']} {one['text']}")
    return "\n".join(lines)


def main() -> None:
    count, seed, where = sys.argv[1:]
    folder = Path(where)
    folder.mkdir(parents=True, exist_ok=True)
    if int(count):
        throw(int(count), seed, folder)
    print(worst(folder))
    print(table(folder))


if __name__ == "__main__":
    main()
