"""The ways of a heel answer side by side, and the tanks before and after, as text."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict
from datetime import datetime
from typing import Any

from passage.planning.heel.cards import Card
from passage.planning.heel.heel import HeelAnswer
from passage.planning.heel.options import Priced
from passage.planning.heel.tanks import TransferState
from passage.planning.heel.words import side_words, time_words
from passage.report.text.layout import grid, wrapped
from passage.report.text.verdict_heel import limit_set


def card_rows(answer: HeelAnswer) -> list[tuple[str, list[str]]]:
    """What a master weighs, a row each, with a cell for each card."""
    rows: list[tuple[str, list[str]]] = []
    currency = answer.plan.comparison.problem.currency

    def row(label: str, cell: Callable[[Card], str]) -> None:
        cells = ["-" if card.priced is None else cell(card) for card in answer.cards]
        rows.append((label, cells))

    def priced(card: Card) -> Priced:
        assert card.priced is not None
        return card.priced

    row("litres", lambda card: f"{priced(card).total_l:.0f} l")
    if currency:
        row("money", lambda card: f"{priced(card).money or 0.0:.0f} {currency}")
    if answer.hold == "fuel":
        row("time lost", lambda card: _time_lost(priced(card)))
    row("heel left, worst", lambda card: side_words(priced(card).worst_heel_deg))
    row(
        "worst hour",
        lambda card: (
            "-" if card.worst_utc is None else f"{hour_words(card.worst_utc)}, leg {card.worst_leg}"
        ),
    )
    if limit_set(answer):
        row(
            "over the limit",
            lambda card: (
                "never" if priced(card).within_limit else f"{priced(card).over_limit_h.sum():.1f} h"
            ),
        )
    row(
        "roll let through",
        lambda card: (
            "-" if card.roll_more_deg is None else f"{max(card.roll_more_deg, 0.0):.1f}\u00b0"
        ),
    )
    row("least GM", lambda card: "-" if card.gm_least_m is None else f"{card.gm_least_m:.2f} m")
    row("trim", lambda card: trim_words(card.trim_m))
    row("crew", lambda card: f"{card.crew_h or 0.0:.1f} h")
    row("arrival", lambda card: _tank_state(answer, card))
    return rows


def _time_lost(one: Priced) -> str:
    if one.lost_h is None or one.lost_nm is None:
        return "not known"
    return time_words(one.lost_h, one.lost_nm)


def hour_words(utc: str) -> str:
    """``14 Mar 22:54Z`` from the time as it is written elsewhere."""
    return datetime.fromisoformat(utc).strftime("%d %b %H:%MZ").lstrip("0")


def trim_words(trim_m: float | None) -> str:
    """A change of trim with its end."""
    if trim_m is None:
        return "not known"
    if abs(trim_m) < 0.005:
        return "none"
    return f"{abs(trim_m):.2f} m by the {'bow' if trim_m > 0.0 else 'stern'}"


def card_title(card: Card) -> str:
    """Name of a way, marked where it is the advice."""
    return f"{card.way} (advised)" if card.advised else card.way


def _tank_state(answer: HeelAnswer, card: Card) -> str:
    if card.arrival is None:
        return "-"
    tanks = answer.plan.comparison.problem.tanks
    start = [tank.content_m3 for tank in tanks]
    parts = [
        f"{tank.name} {now:.1f}"
        for tank, now, then in zip(tanks, card.arrival.content_m3, start, strict=True)
        if abs(now - then) > 0.05
    ]
    return ", ".join(parts) + " m3" if parts else "as at departure"


def card_grid(answer: HeelAnswer) -> str:
    headings = ["", *(card_title(card) for card in answer.cards)]
    rows = [[label, *cells] for label, cells in card_rows(answer) if label != "arrival"]
    text = grid(headings, rows, {0})
    more = []
    for card in answer.cards:
        words = card.why_not or card.does
        more.append(wrapped(f"{card.way}: {words}."))
    return "\n".join([text, "", *more])


def tank_table(answer: HeelAnswer, state: TransferState) -> tuple[list[str], list[list[str]]]:
    """Before and after a transfer: headings and rows, to be signed."""
    tanks = answer.plan.comparison.problem.tanks
    before, after = state.before, state.after
    rows = [
        [tank.name, f"{b:.2f}", f"{a - b:+.2f}" if abs(a - b) > 5e-3 else "", f"{a:.2f}"]
        for tank, b, a in zip(tanks, before.content_m3, after.content_m3, strict=True)
    ]

    def pair(label: str, b: float | None, a: float | None, digits: int, sign: str = "") -> None:
        if b is None or a is None:
            rows.append([label, "not known", "", "not known"])
        else:
            rows.append(
                [
                    label,
                    f"{b:{sign}.{digits}f}",
                    f"{a - b:+.{digits}f}",
                    f"{a:{sign}.{digits}f}",
                ]
            )

    pair("displacement, t", before.displacement_t, after.displacement_t, 1)
    pair("fluid GM, m", before.gm_m, after.gm_m, 3)
    pair("list, deg (+ starboard)", before.list_deg, after.list_deg, 2, "+")
    pair("trim, m (+ by the bow)", before.trim_m, after.trim_m, 3, "+")
    pair("draught forward, m", before.draught_fore_m, after.draught_fore_m, 2)
    pair("draught aft, m", before.draught_aft_m, after.draught_aft_m, 2)
    rows.append(["least fluid GM while pumping, m", "", "", f"{state.gm_pumping_m:.3f}"])
    return ["tank, m3", "before", "moved", "after"], rows


def advised_transfers(answer: HeelAnswer) -> tuple[TransferState, ...]:
    """The transfers of the advice with the state on both sides."""
    for card in answer.cards:
        if card.advised:
            return card.transfers
    return ()


def tank_tables(answer: HeelAnswer) -> list[str]:
    out: list[str] = []
    for state in advised_transfers(answer):
        headings, rows = tank_table(answer, state)
        out += [
            f"Before and after the transfer before leg {state.leg}",
            grid(headings, rows, {0}),
            "ordered .................. sounded before ........ after ........ signed ..........",
            "",
        ]
    return out


def card_dict(answer: HeelAnswer, card: Card) -> dict[str, Any]:
    priced = card.priced
    return {
        "way": card.way,
        "advised": card.advised,
        "does": card.does or None,
        "why_not": card.why_not or None,
        "total_l": None if priced is None else priced.total_l,
        "money": None if priced is None else priced.money,
        "heel_left_worst_deg": None if priced is None else priced.worst_heel_deg,
        "worst_leg": card.worst_leg,
        "worst_utc": card.worst_utc,
        "heel_over_limit_h": None if priced is None else priced.over_limit_h.sum(),
        "roll_more_deg": card.roll_more_deg,
        "gm_least_m": card.gm_least_m,
        "trim_m": card.trim_m,
        "crew_h": card.crew_h,
        "arrival": None if card.arrival is None else asdict(card.arrival),
        "transfers": [
            {
                "before_leg": state.leg,
                "before": asdict(state.before),
                "after": asdict(state.after),
                "gm_pumping_m": state.gm_pumping_m,
            }
            for state in card.transfers
        ],
        "tanks": [tank.name for tank in answer.plan.comparison.problem.tanks],
        "holds_unless": card.flip or None,
    }
