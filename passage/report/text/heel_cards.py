"""The ways of a heel answer side by side, and the tanks before and after, as text."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict
from datetime import datetime
from typing import Any

from passage.planning.heel.cards import Card
from passage.planning.heel.heel import HeelAnswer
from passage.planning.heel.options import Priced
from passage.planning.heel.tanks import TransferState
from passage.planning.heel.words import side_words, time_words
from passage.report.drawing.meanings import label_meaning
from passage.report.text.heel_chances import limit_set
from passage.report.text.layout import Layout, TextColumn, fitted, grid, paragraph, wrapped

#: Labels that are explained below the table.
_UNPLAIN = ("litres", "other litres", "extra roll", "least GM", "trim", "crew")


def card_rows(answer: HeelAnswer) -> list[tuple[str, list[str]]]:
    """Rows of the comparison, each a label and a cell for each card."""
    rows: list[tuple[str, list[str]]] = []
    currency = answer.plan.comparison.problem.currency

    def row(label: str, cell: Callable[[Card], str]) -> None:
        cells = ["-" if card.priced is None else cell(card) for card in answer.cards]
        rows.append((label, cells))

    def priced(card: Card) -> Priced:
        assert card.priced is not None
        return card.priced

    if answer.hold == "fuel":
        row("time lost", lambda card: _time_lost(priced(card)))
    litres = "other litres" if answer.hold == "fuel" else "litres"
    row(litres, lambda card: f"{priced(card).paid_l(answer.hold):,.0f} l")
    if currency:
        row("money", lambda card: f"{paid_money(answer, priced(card)) or 0.0:,.0f} {currency}")

    def less(text: str) -> str:
        return text.replace("to ", "").replace("by the ", "")

    rests = any(card.rest_heel_deg is not None for card in answer.cards)
    if rests:
        # There are two limits: a heel may be over one and within the other.
        for words, heel, limit in (
            ("under way", "way_heel_deg", "way_limit_deg"),
            ("at anchor", "rest_heel_deg", "rest_limit_deg"),
        ):
            bounds = {getattr(card, limit) for card in answer.cards} - {None}
            label = f"{words}, limit {min(bounds):.1f} deg" if bounds else words

            def worst(card: Card, heel: str = heel) -> str:
                value = getattr(card, heel)
                return "-" if value is None else less(side_words(value))

            row(label, worst)
    else:
        for at, side in enumerate(("port", "starboard")):

            def left(card: Card, at: int = at) -> str:
                assert card.sides_deg is not None
                return f"{card.sides_deg[at]:.1f} deg"

            row(f"heel left to {side}", left)
    row(
        "worst hour",
        lambda card: "-" if card.worst_utc is None else hour_words(card.worst_utc),
    )
    row("on leg", lambda card: "-" if card.worst_leg is None else str(card.worst_leg))
    if limit_set(answer):
        row(
            "over the limit" if not rests else "over either limit",
            lambda card: over_words(answer, priced(card)),
        )
    row(
        "extra roll",
        lambda card: (
            "-" if card.roll_more_deg is None else f"{max(card.roll_more_deg, 0.0):.1f} deg"
        ),
    )
    row("least GM", lambda card: "-" if card.gm_least_m is None else f"{card.gm_least_m:.2f} m")
    row("trim", lambda card: less(trim_words(card.trim_m)))
    row("crew", lambda card: f"{card.crew_h or 0.0:.1f} h")
    return rows


#: The meaning of litres in the answer where the fuel rate is held.
HELD_WORDS = (
    "With the fuel rate held, all other litres only compare the ways: they are what the drag takes "
    "of the rate. She burns no more in an hour; she takes longer."
)


def paid_money(answer: HeelAnswer, one: Priced) -> float | None:
    """What a way costs in money; None without a price of fuel."""
    price = one.fuel_price_per_l
    return None if price is None else price * one.paid_l(answer.hold)


def over_words(answer: HeelAnswer, one: Priced, unit: str = " h") -> str:
    """Hours over the limit of heel; "never", or "not known" where part of the way is not."""
    within = answer.within(one)
    if within is not False:
        return "never" if within else "not known"
    more = " or more" if answer.unknown.any() else ""
    return f"{one.known_over_h.sum():.1f}{unit}{more}"


def _time_lost(one: Priced) -> str:
    if one.lost_h is None or one.lost_nm is None:
        return "not known"
    return time_words(one.lost_h, one.lost_nm)


def hour_words(utc: str) -> str:
    """``14 Mar 22:54Z`` from a time in ISO 8601."""
    return datetime.fromisoformat(utc).strftime("%d %b %H:%MZ").lstrip("0")


def trim_words(trim_m: float | None) -> str:
    """A change of trim, with by the bow or by the stern."""
    if trim_m is None:
        return "not known"
    if abs(trim_m) < 0.005:
        return "none"
    return f"{abs(trim_m):.2f} m by the {'bow' if trim_m > 0.0 else 'stern'}"


def tank_state(answer: HeelAnswer, card: Card) -> str:
    """Contents on arrival of the tanks that have changed."""
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


def card_lines(answer: HeelAnswer, layout: Layout) -> list[str]:
    """The ways side by side, and for each a line on what is done."""
    columns = [TextColumn("", left=True)]
    for card in answer.cards:
        name = card.heading.upper() if card.advised else card.heading
        columns.append(TextColumn(name, 1 if card.way == "ballast" and not card.advised else 0))
    rows = [[label, *cells] for label, cells in card_rows(answer)]
    advised = ["", *("advised" if card.advised else "" for card in answer.cards)]
    out = fitted(columns, [advised, *rows], layout)
    if layout.quiet:
        return out
    meant = [f"{label}: {label_meaning(label)}" for label, *_ in rows if label in _UNPLAIN]
    out += [paragraph(f"{'; '.join(meant)}.", layout.width), ""]
    if answer.hold == "fuel":
        out += [paragraph(HELD_WORDS, layout.width), ""]
    for card in answer.cards:
        words = card.why_not or (card.action if not card.advised else "as above")
        if card.note:
            words += f". {card.note}"
        if card.arrival is not None:
            words += f". Tanks on arrival: {tank_state(answer, card)}"
        out.append(wrapped(f"{card.heading}: {words}.", layout.width))
    return out


def tank_table(
    answer: HeelAnswer, states: Sequence[TransferState]
) -> tuple[list[str], list[list[str]]]:
    """Before and after transfers, side by side: headings and rows, to be signed."""
    tanks = answer.plan.comparison.problem.tanks
    headings = ["tank, m3"]
    for state in states:
        headings += [f"before leg {state.leg}", "moved", "after"]
    rows = []
    for i, tank in enumerate(tanks):
        cells = [tank.name]
        for state in states:
            b, a = state.before.content_m3[i], state.after.content_m3[i]
            cells += [f"{b:.2f}", f"{a - b:+.2f}" if abs(a - b) > 5e-3 else "", f"{a:.2f}"]
        rows.append(cells)

    def pair(label: str, name: str, digits: int, sign: str = "") -> None:
        cells = [label]
        for state in states:
            b, a = getattr(state.before, name), getattr(state.after, name)
            if b is None or a is None:
                cells += ["not known", "", "not known"]
                continue
            moved = f"{a - b:+.{digits}f}" if abs(a - b) > 0.5 * 10.0**-digits else ""
            cells += [f"{b:{sign}.{digits}f}", moved, f"{a:{sign}.{digits}f}"]
        rows.append(cells)

    pair("displacement, t", "displacement_t", 1)
    pair("fluid GM, m", "gm_m", 3)
    pair("list, deg, + starboard", "list_deg", 2, "+")
    pair("trim, m, + by the bow", "trim_m", 3, "+")
    pair("draught forward, m", "draught_fore_m", 2)
    pair("draught aft, m", "draught_aft_m", 2)
    pumping = ["GM while pumping, m"]
    for state in states:
        pumping += ["", "", f"{state.gm_pumping_m:.3f}"]
    rows.append(pumping)
    for label in ("sounded", "signed"):
        rows.append([label, *([".......", "", "......."] * len(states))])
    return headings, rows


def tables_of(states: Sequence[TransferState], most: int) -> list[Sequence[TransferState]]:
    """Transfers in groups of up to ``most``, to be shown side by side."""
    return [states[at : at + most] for at in range(0, len(states), most)]


def advised_transfers(answer: HeelAnswer) -> tuple[TransferState, ...]:
    """The transfers of the advice with the state on both sides."""
    for card in answer.cards:
        if card.advised:
            return card.transfers
    return ()


def tank_tables(answer: HeelAnswer, layout: Layout) -> list[str]:
    """Tables of tanks before and after each transfer of the advice, as many side by side as fit."""
    states = advised_transfers(answer)
    for most in (3, 2, 1):
        tables = [grid(*tank_table(answer, some), left={0}) for some in tables_of(states, most)]
        if all(len(line) <= layout.width for text in tables for line in text.splitlines()):
            break
    out: list[str] = []
    for text in tables:
        out += ["", "Tanks before and after, to be sounded and signed", text]
    return out


def card_dict(answer: HeelAnswer, card: Card) -> dict[str, Any]:
    """A way as plain values, for JSON."""
    priced = card.priced
    return {
        "way": card.way,
        "advised": card.advised,
        "action": card.action or None,
        "why_not": card.why_not or None,
        "total_l": None if priced is None else priced.paid_l(answer.hold),
        "money": None if priced is None else paid_money(answer, priced),
        "heel_left_worst_deg": None if priced is None else priced.worst_heel_deg,
        "heel_left_port_deg": None if card.sides_deg is None else card.sides_deg[0],
        "heel_left_starboard_deg": None if card.sides_deg is None else card.sides_deg[1],
        "fins_rule": None if priced is None else priced.rule,
        "worst_leg": card.worst_leg,
        "worst_utc": card.worst_utc,
        "heel_at_anchor_worst_deg": card.rest_heel_deg,
        "heel_under_way_worst_deg": card.way_heel_deg,
        "heel_over_limit_h": None if priced is None else priced.known_over_h.sum(),
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
        "holds_unless": None if card.flip is None else card.flip.words,
    }
