"""Loading events: by a leg's number or by the distance left, and alike on every route."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from passage.errors import VesselError
from passage.inputs.route import make_track
from passage.inputs.vessel import LoadingEvent
from passage.inputs.vessel.reader import vessel_from_text
from passage.planning.voyage.events import refuse_unlike_events
from passage.planning.voyage.loading import events_t_m, loading_along
from passage.units import nm_to_m
from tests.planning_scenario import SAMPLES, route, vessel

#: Straight south: 60 nm a degree of latitude, nearly.
SHORT = route((48.0, -7.0), (47.0, -7.0), (46.0, -7.0))
LONG = route((48.0, -7.0), (47.5, -8.0), (47.0, -8.0), (46.0, -7.0))


def _with(*events):
    plain = vessel()
    return replace(plain, loading=replace(plain.loading, events=events))


def test_an_event_by_distance_at_the_start_of_a_leg_is_that_of_the_leg():
    track = make_track(SHORT, 12.0)
    left = SHORT.legs[1].distance_m / nm_to_m(1.0)
    by_leg = _with(LoadingEvent(leg=2, moment_t_m=-6.0, what="tender"))
    by_miles = _with(LoadingEvent(miles_to_go=left, moment_t_m=-6.0, what="tender"))
    fuel = np.full(len(track), 50.0)
    one, other = (
        loading_along(v, track.leg, fuel, length_m=track.length_m).moment_t_m
        for v in (by_leg, by_miles)
    )
    assert np.ptp(one) == 6.0
    assert_allclose(other, one, rtol=1e-12)


def test_an_event_by_distance_begins_as_far_from_the_end_on_every_route():
    loaded = _with(LoadingEvent(miles_to_go=20.0, moment_t_m=5.0, what="tender"))
    for one in (SHORT, LONG):
        track = make_track(one, 12.0)
        moment = events_t_m(loaded, track.leg, track.length_m)
        out = track.length_m[moment > 0.0].sum() / nm_to_m(1.0)
        # Begun with a segment of at most 4 nm: within half of one.
        assert abs(out - 20.0) <= 2.0


def test_an_event_further_off_than_the_route_is_long_holds_from_the_start():
    track = make_track(SHORT, 12.0)
    loaded = _with(LoadingEvent(miles_to_go=900.0, moment_t_m=5.0, what="stores"))
    assert np.all(events_t_m(loaded, track.leg, track.length_m) == 5.0)


def test_routes_that_begin_a_leg_elsewhere_are_refused_with_the_places_and_a_way_out():
    loaded = _with(
        LoadingEvent(leg=3, moment_t_m=5.0, what="tender swung out"),
        LoadingEvent(leg=2, moment_t_m=2.0, what="guests to port"),
    )
    with pytest.raises(VesselError) as refused:
        refuse_unlike_events(loaded, [replace(SHORT, name="short"), replace(LONG, name="long")])
    text = str(refused.value)
    assert len(text.splitlines()) == 2
    assert "events[1] leg = 3" in text
    assert "short: no such leg, long: at P2" in text
    assert "miles_to_go" in text


@pytest.mark.parametrize(
    "event",
    [
        LoadingEvent(leg=1, moment_t_m=5.0, what="stores"),
        LoadingEvent(miles_to_go=20.0, moment_t_m=5.0, what="stores"),
    ],
)
def test_what_means_the_same_on_every_route_is_compared(event):
    refuse_unlike_events(_with(event), [SHORT, LONG])


def test_a_leg_that_begins_at_one_place_on_both_is_compared():
    event = LoadingEvent(leg=2, moment_t_m=5.0, what="stores")
    other = route((48.0, -7.0), (47.0, -7.0), (46.5, -6.0), (46.0, -7.0))
    refuse_unlike_events(_with(event), [SHORT, other])


@pytest.mark.parametrize(
    ("keys", "word"), [("", "neither"), ("leg = 2, miles_to_go = 20.0, ", "both")]
)
def test_an_event_has_one_place(keys, word):
    text = (SAMPLES / "brambling.toml").read_text("utf-8")
    event = f'events = [{{ {keys}moment_t_m = 1.0, what = "tender" }}]'
    with pytest.raises(VesselError, match=f"'tender' needs one of .*{word}"):
        vessel_from_text(text.replace("events = []", event), "v.toml")
