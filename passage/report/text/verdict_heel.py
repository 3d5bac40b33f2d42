"""The verdict of the heel decision, in the form common to all answers."""

from __future__ import annotations

from passage.planning.heel.cards import Card
from passage.planning.heel.heel import HeelAnswer
from passage.report.drawing.blocks import Figure
from passage.report.text.heel_chances import chance_sentences, limit_set
from passage.report.text.verdict import (
    MOST_FIGURES,
    NO_LIMIT_WORD,
    Verdict,
    asked_sea,
    gaps,
    left_out,
    legs_of,
    legs_words,
    number,
)
from passage.variables import COVERAGE, COVERED

#: Badges: this answer judges heel alone, not roll or motion.
_WORDS = {
    "within": "Within the limit of heel",
    "over": "Over the limit of heel",
    "unknown": "Not known in full",
}
#: Codes of warnings that part of the forecast is missing.
_OF_GAPS = (*(f"coverage_{word}" for word in COVERAGE if word not in COVERED), "wind_missing")


def heel_verdict(answer: HeelAnswer) -> Verdict:
    """The advice, its price and the heel left; "over" for a broken limit or a warning.

    Of a forecast that ends on the way nothing is warned here: the state is then "unknown".
    """
    head, dot, rest = answer.verdict.partition(". ")
    warned = any(
        one.severity == "warning" and not one.code.startswith(_OF_GAPS) for one in answer.cautions
    )
    judged = limit_set(answer)
    state = answer.state if judged or answer.state == "over" else "unknown"
    word = _WORDS[state]
    if not judged:
        word = NO_LIMIT_WORD
    if warned and state != "over":
        state, word = "over", "With a warning"
    cards = [card for card in answer.cards if card.priced is not None]
    cards.sort(key=lambda card: not card.advised)
    figures = [_figure(answer, card, judged) for card in cards[:MOST_FIGURES]]
    words = (rest, left_out(answer.cautions), asked_sea(answer.cautions), gaps(answer.cautions))
    rest = " ".join(part for part in words if part)
    price = " ".join(chance_sentences(answer))
    hunts = legs_of(answer.cautions, ("fins_hunt",))
    if hunts:
        do = (
            f"No verdict: the fins hunt with these gains on {legs_words(hunts)}, so neither the "
            "roll nor the heel that they can hold beside it is known there."
        )
        why = "Lower the gains in the vessel file, as shown below."
        rest = f"{why} With steady fins the advice would be: {head}. {rest}".strip()
        return Verdict("unknown", do, rest, price, tuple(figures))
    return Verdict(state, head + ("." if dot else ""), rest, price, tuple(figures), word)


def _figure(answer: HeelAnswer, card: Card, judged: bool) -> Figure:
    """Price and heel left of one way."""
    one = card.priced
    assert one is not None
    name = f"{card.heading[0].upper()}{card.heading[1:]}"
    under = f"leaves {abs(one.worst_heel_deg):.1f} deg"
    if card.rest_heel_deg == one.worst_heel_deg:
        under += " at anchor"
    within = answer.within(one)
    if judged and within is False:
        under += f", {one.known_over_h.sum():.0f} h over the limit"
    if answer.unknown.any():
        under += ", as far as known"
    severity = "limit" if within is False else "note"
    label = "As advised" if card.advised else name
    if answer.hold == "fuel" and one.lost_h is not None:
        return Figure(label, number(60.0 * one.lost_h), "min", under, severity)
    return Figure(label, number(one.total_l), "l", under, severity)
