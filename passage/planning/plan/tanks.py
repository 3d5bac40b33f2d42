"""Tanks, GM, draught and trim by leg, and faults of ordered transfers."""

from __future__ import annotations

from typing import Any

import numpy as np

from passage.errors import PassageError, Problem, join_problems
from passage.planning.plan.result import Caution
from passage.planning.voyage.evaluate import Evaluation
from passage.planning.voyage.legs import leg_starts
from passage.planning.voyage.loading import SEA, Loading, Shift, broken, loading_along, placed
from passage.planning.voyage.march import March
from passage.planning.voyage.prepare import Passage

#: Accuracy of a sounding; a smaller excess over the capacity is no fault of the order. [m3]
_READ_OFF_M3 = 0.05


def _loaded(
    passage: Passage, way: March, evaluation: Evaluation
) -> tuple[tuple[Shift, ...], Loading]:
    """Ordered transfers at their points, and the loading along the track with them."""
    track = passage.track
    moves = placed(passage.moves, track.leg, way.hours)
    fuel = evaluation.values["fuel_l"]
    return moves, loading_along(passage.vessel, track.leg, fuel, moves, length_m=track.length_m)


def tank_rows(passage: Passage, way: March, evaluation: Evaluation) -> tuple[dict[str, Any], ...]:
    """Row for each leg: transfers, contents at its end, least GM, draught and change of trim."""
    vessel, track = passage.vessel, passage.track
    if not vessel.tanks:
        return ()
    moves, loading = _loaded(passage, way, evaluation)
    known = np.isfinite(evaluation.values["fuel_l"])
    names = [tank.name for tank in vessel.tanks]
    starts = leg_starts(track.leg)
    ends = np.r_[starts[1:], len(track)] - 1
    rows = []
    for leg, (start, last) in enumerate(zip(starts, ends, strict=True)):
        here = slice(start, last + 1)
        content = loading.content_start_m3[last] - loading.burn_m3[last]
        sure = bool(np.all(known[: last + 1]))
        rows.append(
            {
                "leg": leg + 1,
                "transfers": [
                    {
                        "from": "sea" if move.source == SEA else names[move.source],
                        "to": "sea" if move.target == SEA else names[move.target],
                        "m3": move.amount_m3,
                    }
                    for move in moves
                    if start <= move.point <= last
                ],
                "content_end_m3": dict(zip(names, content.tolist(), strict=True)) if sure else None,
                "fluid_gm_least_m": float(np.min(loading.gm_m[here])) if sure else None,
                "draught_m": float(loading.draught_m[last]) if sure else None,
                "trim_change_m": float(loading.trim_m[last]) if sure else None,
                "displacement_t": float(loading.displacement_t[last]) if sure else None,
            }
        )
    return tuple(rows)


def refuse_impossible_transfers(
    passage: Passage, way: March, evaluation: Evaluation, file: str
) -> None:
    """Refuse ordered transfers for which a tank has too little room or liquid at that time.

    Raises
    ------
    PassageError
        There are such tanks; the message names all of them.
    """
    if not passage.moves:
        return
    vessel, track = passage.vessel, passage.track
    moves, loading = _loaded(passage, way, evaluation)
    out = []
    for point, index in sorted(
        {(move.point, one) for move in moves for one in (move.source, move.target) if one != SEA}
    ):
        tank, after = vessel.tanks[index], float(loading.content_start_m3[point, index])
        place = f"before leg {int(track.leg[point]) + 1}"
        if after > tank.capacity_m3 + _READ_OFF_M3:
            wrong = f"{tank.name} would hold {after:.1f} m3, more than its {tank.capacity_m3:g} m3"
            less = after - tank.capacity_m3
        elif after < -_READ_OFF_M3:
            wrong, less = f"{tank.name} lacks {-after:.1f} m3 of what is to be taken", -after
        else:
            continue
        out.append(
            Problem(file=file, what=f"{place}, {wrong}", fix=f"Move at least {less:.1f} m3 less.")
        )
    if out:
        raise PassageError(join_problems(out))


def tank_cautions(passage: Passage, way: March, evaluation: Evaluation) -> tuple[Caution, ...]:
    """Cautions about ordered transfers: tanks, roll, GM and trim."""
    vessel, track = passage.vessel, passage.track
    if not passage.moves:
        return ()
    moves, loading = _loaded(passage, way, evaluation)
    out = [
        Caution("moves_tank", "warning", (), f"transfers: {words}.")
        for words in broken(vessel, loading, moves, track.leg)
    ]
    roll = evaluation.values["roll_active_significant_deg"]
    most = np.inf if vessel.transfer is None else vessel.transfer.max_roll_significant_deg
    rough = sorted(
        {
            int(track.leg[move.point]) + 1
            for move in moves
            if move.point > 0 and not roll[move.point] <= most
        }
    )
    if rough:
        out.append(
            Caution(
                "moves_roll",
                "warning",
                tuple(rough),
                f"a transfer is ordered where the roll is above {most:g} degrees or not known.",
            )
        )
    least = vessel.particulars.minimum_gm_m
    gm = float(np.min(loading.gm_m))
    if least is not None and gm < least:
        leg = int(track.leg[int(np.argmin(loading.gm_m))]) + 1
        out.append(
            Caution(
                "moves_gm",
                "warning",
                (leg,),
                f"fluid GM would be {gm:.2f} m on leg {leg}, minimum {least:.2f} m.",
            )
        )
    limit = None if vessel.transfer is None else vessel.transfer.trim_limit_m
    trim = loading.trim_m
    if limit is not None and np.any(np.abs(trim) > limit):
        worst = int(np.nanargmax(np.abs(trim)))
        out.append(
            Caution(
                "moves_trim",
                "caution",
                (int(track.leg[worst]) + 1,),
                f"burn and transfers trim her by {abs(trim[worst]):.2f} m, more than the owner's "
                f"{limit:.2f} m.",
            )
        )
    out.append(
        Caution(
            "stability_booklet",
            "caution",
            tuple(sorted({order.before_leg for order in passage.moves})),
            "check every transfer against the approved stability booklet before opening a valve.",
        )
    )
    return tuple(out)
