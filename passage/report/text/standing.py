"""Cautions for the screen: of the answer, by leg, worst first; and those that always hold."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from passage.planning.plan.cautions import STANDING
from passage.planning.plan.result import Caution
from passage.report.text.layout import Layout, paragraph, wrapped
from passage.report.text.verdict import legs_words

#: The standing cautions in one line.
STANDING_LINE = "Always: the master decides; stability booklet first; not for navigation."
_STANDING_CODES = frozenset(code for code, _ in STANDING)
_ORDER = {"warning": 0, "caution": 1, "note": 2}


def standing_lines(layout: Layout) -> list[str]:
    """The cautions that hold for every answer, printed last."""
    if layout.quiet:
        return ["", STANDING_LINE]
    text = " ".join(text for _, text in STANDING)
    return ["", paragraph(f"Always: {text}", layout.width)]


def own_cautions(cautions: Iterable[Caution]) -> list[Caution]:
    """The cautions of this answer, without the standing ones."""
    return [caution for caution in cautions if caution.code not in _STANDING_CODES]


def grouped(cautions: Iterable[Caution]) -> list[tuple[tuple[int, ...], list[Caution]]]:
    """Cautions grouped by the legs they concern, worst first.

    The group with the gravest caution comes first; among equals the one with more such
    cautions, then the one with the earlier leg. Within a group the gravest comes first.
    """
    groups: dict[tuple[int, ...], list[Caution]] = {}
    for caution in own_cautions(cautions):
        groups.setdefault(tuple(sorted(caution.legs)), []).append(caution)
    for items in groups.values():
        items.sort(key=lambda c: _ORDER.get(c.severity, 3))

    def weight(legs: tuple[int, ...]) -> tuple[object, ...]:
        graves = [_ORDER.get(c.severity, 3) for c in groups[legs]]
        return min(graves), -graves.count(min(graves)), legs

    return [(legs, groups[legs]) for legs in sorted(groups, key=weight)]


def caution_lines(cautions: Iterable[Caution], layout: Layout) -> list[str]:
    """The cautions as text: a heading for each group of legs, a bullet for each caution."""
    out: list[str] = []
    for legs, items in grouped(cautions):
        head = legs_words(legs) if legs else "the whole passage"
        out.append(f"{head[0].upper()}{head[1:]}")
        for caution in items:
            text = caution.text[:1].upper() + caution.text[1:]
            out.append(wrapped(text, layout.width, "! " if caution.severity == "warning" else "- "))
    return out


def count_words(cautions: Sequence[Caution]) -> str:
    """``1 warning, 3 cautions``, remarks counted as cautions; empty without any."""
    found = severities(cautions)
    warnings = found["warning"]
    parts = ((warnings, "warning"), (sum(found.values()) - warnings, "caution"))
    return ", ".join(f"{n} {word}{'' if n == 1 else 's'}" for n, word in parts if n)


def title_line(title: str, cautions: Sequence[Caution], layout: Layout) -> str:
    """The first line of an answer; with ``quiet`` it counts the cautions that are left out."""
    left_out = count_words(cautions) if layout.quiet else ""
    return paragraph(f"{title} ({left_out} left out)", layout.width) if left_out else title


def severities(cautions: Sequence[Caution]) -> dict[str, int]:
    """How many cautions of each severity, without the standing ones."""
    counts = {"warning": 0, "caution": 0, "note": 0}
    for caution in own_cautions(cautions):
        counts[caution.severity] = counts.get(caution.severity, 0) + 1
    return counts
