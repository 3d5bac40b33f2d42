"""Examples at the end of each ``--help``, which run as they are; no imports."""

from __future__ import annotations

_SEA = "--forecast spring_waves.nc --forecast spring_wind.nc --forecast spring_current.nc"
_SPRING = f"--vessel brambling_may.toml {_SEA}"
_LEAVE = "--departure 2026-05-20T20:00Z --speed 11"

#: Command -> examples, typed in the order of the commands in a copy of ``sample_forecasts``.
#: A line that begins with ``python`` makes what the next one needs.
EXAMPLES: dict[str, tuple[str, ...]] = {
    "plan": (
        f"passage plan outside.csv {_SPRING} {_LEAVE}",
        f"passage plan outside.csv {_SPRING} {_LEAVE} --format sheet -o watch.html",
        f"passage plan outside.csv {_SPRING} {_LEAVE} -o plan.json",
    ),
    "compare": (
        f"passage compare straight.csv outside.csv {_SPRING} --from 2026-05-20T08:00Z "
        "--to 2026-05-21T20:00Z --every 12 --speed 11 --speed 12",
    ),
    "suggest": (
        f"passage suggest outside.csv {_SPRING} {_LEAVE} --for comfort --cell 15 --draws 0 "
        "-o found.gpx",
    ),
    "heel": (
        f"passage heel outside.csv {_SPRING} {_LEAVE}",
        f"passage heel outside.csv {_SPRING} {_LEAVE} --no-transfer 2 --heel-worth 5",
    ),
    "season": (
        "python make_years.py hindcast.nc",
        "passage season straight.csv outside.csv --vessel brambling_may.toml "
        "--forecast hindcast_2021.nc --from 2021-05-01 --to 2021-09-28 --every 24 --speed 11 "
        "-o season",
    ),
    "hindcast": (
        "python make_years.py hindcast.nc",
        "passage hindcast hindcast_2021.nc hindcast_2022.nc -o years.nc",
    ),
    "defaults": ("passage defaults",),
    "check": (
        "passage check spring_waves.nc spring_wind.nc --route outside.csv "
        "--departure 2026-05-20T20:00Z",
        "passage check --vessel brambling_may.toml",
    ),
    "particulars": (
        "passage particulars --no-input -o template.toml",
        "passage particulars -o mine.toml",
    ),
    "decay": (
        "python make_log.py plan.json",
        "passage decay decay.csv --vessel brambling_may.toml",
    ),
    "review": (
        "python make_log.py plan.json",
        f"passage review log.csv --plan plan.json {_SEA.replace('forecast', 'sea')} "
        "--record passages.csv",
    ),
    "record": ("passage record passages.csv --vessel brambling_may.toml",),
    "calibrate": (
        "python make_log.py plan.json",
        f"passage calibrate log.csv {_SPRING}",
    ),
}


def shown(example: str, width: int) -> list[str]:
    """An example in lines of ``width`` columns that a shell joins again.

    An option stays on the line of its value.
    """
    pieces: list[str] = []
    for word in example.split():
        if pieces and pieces[-1].startswith("-") and " " not in pieces[-1] and word[0] != "-":
            pieces[-1] += f" {word}"
        else:
            pieces.append(word)
    lines, line = [], ""
    for piece in pieces:
        if line and len(line) + len(piece) + 3 > width:
            lines.append(f"{line} \\")
            line = f"  {piece}"
        else:
            line = f"{line} {piece}" if line else piece
    return [*lines, line]
