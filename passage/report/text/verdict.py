"""The verdict of an answer: what to do, why, at what price, and at most five figures.

Every command's text, page and JSON begins with it. ``verdict_plan``, ``verdict_compare``
and so on make one from a result; this module has what they share.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from itertools import chain
from typing import TYPE_CHECKING, Any

from passage.planning.voyage.flows import EFFECTS
from passage.report.drawing.blocks import Figure
from passage.report.text.clocks import beside
from passage.report.text.layout import Layout, paragraph
from passage.variables import COVERAGE, COVERED

if TYPE_CHECKING:
    from passage.planning.plan.result import Caution

#: Most figures beside a verdict.
MOST_FIGURES = 5
#: Opens every verdict where the vessel file has no limits; they are not mentioned again.
NO_LIMIT = "No limit is set in the vessel file, so nothing is judged by one."
NO_LIMIT_WORD = "No limit set"
#: Odds below which keeping the limits is less likely than not. [%]
EVEN_ODDS = 50.0
#: Odds below which the badge of an answer within the limits gives the odds (assumption). [%]
GOOD_ODDS = 75.0
#: Units after a limit's value, by the unit of the variable.
UNIT_WORDS = {"degree": " deg", "percent": " %", "1": " g rms", "minute-1": " times a minute"}
_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS = (
    "Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec",
)  # fmt: skip


STATE_WORDS = {
    "within": "Within the limits",
    "over": "Over a limit",
    "unknown": "Not known in full",
}


@dataclass(frozen=True)
class Verdict:
    """What to do, why, and the price of it or of doing otherwise.

    ``state`` is "within" (go, within the limits), "over" (a limit or rule is broken) or
    "unknown" (the data do not answer). ``do`` is a sentence; ``why`` and ``price`` are
    sentences or empty, as is ``doubt``, how far to trust it. ``word`` replaces the usual words
    for the state where they do not fit. ``doubtful`` marks a "within" that is less likely than
    not: it is not shown in the colour of a good answer.
    """

    state: str
    do: str
    why: str = ""
    price: str = ""
    figures: tuple[Figure, ...] = field(default=())
    word: str = ""
    doubtful: bool = False
    doubt: str = ""

    def __post_init__(self) -> None:
        """Refuse an unknown state or too many figures."""
        if self.state not in STATE_WORDS:
            raise ValueError(f"verdict state {self.state!r}")
        if len(self.figures) > MOST_FIGURES:
            raise ValueError(f"{len(self.figures)} figures beside a verdict")

    @property
    def state_words(self) -> str:
        """The state in words, so that colour is not its only carrier."""
        return self.word or STATE_WORDS[self.state]

    @property
    def tone(self) -> str:
        """Class of its colours on a page: the state, or "doubtful"."""
        return "doubtful" if self.doubtful and self.state == "within" else self.state

    @property
    def text(self) -> str:
        """All of it in one paragraph."""
        return " ".join(part for part in (self.do, self.why, self.price, self.doubt) if part)

    def as_dict(self) -> dict[str, Any]:
        """The same as plain values, for JSON."""
        return {
            "state": self.state,
            "text": self.text,
            "do": self.do,
            "why": self.why or None,
            "price": self.price or None,
            "figures": [
                {"label": f.label, "value": f.value, "unit": f.unit, "under": f.under}
                for f in self.figures
            ],
        }


def odds_word(odds_percent: float) -> str:
    """The badge of an answer within the limits by the forecast; empty for the usual one."""
    if odds_percent < EVEN_ODDS:
        return f"Doubtful, odds {odds_percent:.0f} %"
    return f"{STATE_WORDS['within']}, odds {odds_percent:.0f} %" if odds_percent < GOOD_ODDS else ""


def verdict_lines(verdict: Verdict, layout: Layout) -> list[str]:
    """The verdict for the screen: the paragraph, then the figures side by side."""
    out = [paragraph(verdict.text, layout.width)]
    if verdict.figures and not layout.quiet:
        out += ["", *_figure_lines(verdict.figures, layout.width)]
    return out


def _figure_lines(figures: Sequence[Figure], width: int) -> list[str]:
    """Label, value and remark of each figure under one another, figures side by side."""
    cells = [(f.label, f"{f.value} {f.unit}".strip(), f.under) for f in figures]
    slots = [max(len(text) for text in cell) + 3 for cell in cells]
    groups: list[list[int]] = [[]]
    for i, slot in enumerate(slots):
        if groups[-1] and sum(slots[j] for j in groups[-1]) + slot > width + 3:
            groups.append([])
        groups[-1].append(i)
    lines: list[str] = []
    for group in groups:
        for row in range(3):
            line = "".join(cells[i][row].ljust(slots[i]) for i in group).rstrip()
            if line:
                lines.append(line)
        lines.append("")
    return lines[:-1]


def number(value: float | None, decimals: int = 0) -> str:
    """A number for a sentence, with commas between thousands; "unknown" for a missing one."""
    if value is None or value != value:
        return "unknown"
    return f"{round(value, decimals) + 0.0:,.{decimals}f}"


def when(time_s: float | None) -> str:
    """``Sun 15 Mar 03:00Z``, with local time where asked; "an unknown time" for a missing one."""
    if time_s is None or time_s != time_s:
        return "an unknown time"
    moment = datetime.fromtimestamp(round(time_s / 60.0) * 60.0, UTC)
    day = f"{_DAYS[moment.weekday()]} {moment.day} {_MONTHS[moment.month - 1]}"
    return f"{day} {moment:%H:%M}Z{beside(time_s)}"


def route_words(name: str) -> str:
    """``route outside``; "route" is not repeated before a name that begins with it."""
    if name.lower() == "route":
        return "the route"
    return name if name.lower().startswith("route") else f"route {name}"


def by_route(name: str) -> str:
    """``by route outside``."""
    return f"by {route_words(name)}"


def listed(words: Sequence[object]) -> str:
    """``1, 2 and 3``."""
    texts = [str(word) for word in words]
    if len(texts) < 2:
        return "".join(texts)
    return f"{', '.join(texts[:-1])} and {texts[-1]}"


def flows_left_out(cautions: Iterable[Caution]) -> dict[str, list[Caution]]:
    """Cautions about wind and current that are not known in part, by flow."""
    found: dict[str, list[Caution]] = {}
    for one in cautions:
        flow, _, what = one.code.partition("_")
        if flow in EFFECTS and what in ("gap", "none") and one.severity == "caution":
            found.setdefault(flow, []).append(one)
    return found


def left_out(cautions: Iterable[Caution]) -> str:
    """``No wind is known on 45 % of leg 2.``: flows missing from what a verdict is based on."""
    parts = []
    for one in chain.from_iterable(flows_left_out(cautions).values()):
        words = one.text.split(";")[0].split(":")[0]
        parts.append(f"{words[0].upper()}{words[1:]}.")
    return " ".join(parts)


#: Words for a sea filled in as asked, by code of coverage.
_ASKED = {
    "sheltered": "is taken as sheltered water without waves, as asked",
    "nearest_sea_cell": "has the sea of the nearest sea cell, as asked",
}


def asked_words(legs: Mapping[str, Sequence[int]]) -> str:
    """``Part of leg 4 has the sea of the nearest sea cell, as asked.``, from legs by coverage."""
    parts = [
        f"Part of {legs_words(legs[word])} {text}."
        for word, text in _ASKED.items()
        if legs.get(word)
    ]
    return " ".join(parts)


def asked_sea(cautions: Iterable[Caution]) -> str:
    """The same from the cautions of a plan."""
    legs: dict[str, list[int]] = {}
    for one in cautions:
        legs.setdefault(one.code.removeprefix("coverage_"), []).extend(one.legs)
    return asked_words(legs)


def legs_of(cautions: Iterable[Caution], codes: Collection[str]) -> list[int]:
    """Legs of the cautions with one of these codes."""
    return [leg for one in cautions if one.code in codes for leg in one.legs]


#: Legs with a gap in part whose shares are given one by one.
_MOST_SHARES = 3


def gaps(cautions: Iterable[Caution]) -> str:
    """``43 % of leg 2 and all of leg 3 lie after the forecast ends.``, from a plan's cautions.

    Empty where the forecast covers the whole passage.
    """
    shares: dict[str, list[tuple[int, int]]] = {}
    codes = {f"coverage_{word}" for word in COVERAGE if word not in COVERED}
    for one in cautions:
        found = _SHARE.match(one.text)
        if one.code in codes and found is not None:
            shares.setdefault(found[2], []).append((int(found[1]), one.legs[0]))
    return " ".join(_gap(where, legs) for where, legs in shares.items())


#: Beginning of a caution about a gap: the share of the leg, and where that lies.
_SHARE = re.compile(r"(\d+) % of the leg lies ([^;]+)")


def _gap(where: str, legs: Sequence[tuple[int, int]]) -> str:
    part = [(share, leg) for share, leg in legs if share < 100]
    whole = [leg for share, leg in legs if share >= 100]
    parts = [f"{max(share, 1)} % of leg {leg}" for share, leg in part]
    if len(part) > _MOST_SHARES:
        most = max(share for share, _ in part)
        parts = [f"up to {most} % of {legs_words([leg for _, leg in part])}"]
    parts += [f"all of {legs_words(whole)}"] if whole else []
    words = listed(parts)
    return f"{words[0].upper()}{words[1:]} {'lies' if len(legs) == 1 else 'lie'} {where}."


def legs_words(numbers: Sequence[int]) -> str:
    """``leg 3`` or ``legs 1, 2 and 4``; runs of three or more as ``legs 2 to 5``."""
    runs: list[list[int]] = []
    for n in sorted(set(numbers)):
        if runs and n == runs[-1][-1] + 1:
            runs[-1].append(n)
        else:
            runs.append([n])
    parts: list[str] = []
    for run in runs:
        parts += [f"{run[0]} to {run[-1]}"] if len(run) > 2 else [str(n) for n in run]
    word = "leg" if len(set(numbers)) == 1 else "legs"
    return f"{word} {listed(parts)}"


def eta_s(text: str | None) -> float | None:
    """``2026-03-15T10:49Z`` in seconds since 1970; None for none."""
    return None if not text else datetime.fromisoformat(text).timestamp()
