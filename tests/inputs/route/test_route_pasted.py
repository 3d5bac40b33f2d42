"""What the trade hands over: pasted lists of positions, several routes in one GPX file."""

from __future__ import annotations

import pytest
from click.testing import CliRunner

from passage.cli.main import group
from passage.errors import OutputError, RouteError
from passage.inputs.route import read_route

TABLE = "name,lat,lon\nOff Ushant,48 35.0 N,005 40.0 W\nWP2,47 10.25 N,006 20.0 W\n"
#: The same two waypoints as people paste them.
PASTED = {
    "joined by signs": "Off Ushant 48-35.0N 005-40.0W\nWP2 47-10.25N 006-20.0W\n",
    "letters before": "Off Ushant N48°35.0' W005°40.0'\nWP2 N47°10.25' W006°20.0'\n",
    "tabs": "Off Ushant\t48 35.0 N\t005 40.0 W\nWP2\t47 10.25 N\t006 20.0 W\n",
    "two blanks": "Off Ushant   48 35.0 N   005 40.0 W\nWP2   47 10.25 N   006 20.0 W\n",
    "commas": "Off Ushant, 48°35.0'N, 005°40.0'W\nWP2, 47°10.25'N, 006°20.0'W\n",
    "no names": "48-35.0N 005-40.0W\n\n# remark\n47-10.25N 006-20.0W\n",
    "no names, single blanks": "48 35.0 N 005 40.0 W\n47 10.25 N, 006 20.0 W\n",
    "names behind, single blanks": "48 35.0 N 005 40.0 W Off Ushant\n47 10.25 N 006 20.0 W B\n",
    "a heading": "Name   Latitude   Longitude\n"
                 "Off Ushant 48-35.0N 005-40.0W\nWP2 47-10.25N 006-20.0W\n",
    "names behind": "48-35.0N 005-40.0W Off Ushant\n47-10.25N 006-20.0W B\n",
    "windows": "Off Ushant 48-35.0N 005-40.0W\r\nWP2 47-10.25N 006-20.0W\r\n",
    "seconds": "Off Ushant 48-35-00N 005-40-00W\nWP2 47-10-15N 006-20-00W\n",
}  # fmt: skip


def saved(tmp_path, text, name="list.txt"):
    path = tmp_path / name
    path.write_bytes(text.encode())
    return path


@pytest.mark.parametrize("how", PASTED)
def test_a_pasted_list_is_the_route_of_the_table(tmp_path, how):
    (want,) = read_route(saved(tmp_path, TABLE, "table.csv")).legs
    route = read_route(saved(tmp_path, PASTED[how]))
    (leg,) = route.legs
    for key in ("lat_from_deg", "lon_from_deg", "lat_to_deg", "lon_to_deg"):
        assert getattr(leg, key) == pytest.approx(getattr(want, key), abs=1e-12)
    assert "read as a pasted list of positions, without a header" in route.notes
    if "names" not in how:
        assert (leg.name_from, leg.name_to) == ("Off Ushant", "WP2")
    elif how.startswith("names behind"):
        assert (leg.name_from, leg.name_to) == ("Off Ushant", "B")


@pytest.mark.parametrize(
    ("text", "says"),
    [("A 48-35.0N 005-40.0W\nB 47-10.25N\n", ":2: is not a name and two positions"),
     ("A 48-35.0N 005-40.0W\nB 47-10.25N 006-20.0W 12.5\n", ":2: is not a name"),
     ("A\t48-35.0N\t005-40.0W\nB\t47-10.25N\t006-20.0W\t12\n", ":2: is not a name"),
     ("A;48-35,0N;005-40,0W\nB;47-10,25N;006-20,0W\n", "decimal point"),
     ("A 48-35.0N 005-40.0W\nB 47-70.25N 006-20.0W\n", ":2: "),
     ("A 48-35.0N 005-40.0W\nB 95-10.25N 006-20.0W\n", ":2: "),
     ("A 48-35.0N 005-40.0W\nBuoy 3 47 10.25 N 006 20.0 W\n", ":2: is not a name"),
     ("A 48-35.0N 005-40.0W\n", "1 waypoint")],
)  # fmt: skip
def test_lines_without_positions_are_refused_with_their_number(tmp_path, text, says):
    with pytest.raises(RouteError) as caught:
        read_route(saved(tmp_path, text))
    assert says in str(caught.value)


def test_a_table_stays_a_table(tmp_path):
    """Separators in the header: its speeds are kept, whatever is in the rows."""
    text = "name;lat;lon;leg;speed_kn\nA;48 35.0 N;005 40.0 W;;\nB;47 10.25 N;006 20.0 W;;9\n"
    route = read_route(saved(tmp_path, text, "table.csv"))
    assert route.legs[0].speed_kn == 9.0


GPX = """<?xml version="1.0"?>
<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1">
<rte><name>Out</name><rtept lat="48" lon="-5"/><rtept lat="47" lon="-6"/></rte>
<rte><name>Home again</name><rtept lat="47" lon="-6"/><rtept lat="48" lon="-5"/></rte>
<trk><name>Drawn</name><trkseg><trkpt lat="46" lon="-6"/><trkpt lat="45" lon="-6"/></trkseg>
<trkseg><trkpt lat="44" lon="-6"/></trkseg></trk>
</gpx>"""


def test_one_of_several_routes_or_tracks_is_chosen_by_its_name(tmp_path):
    path = saved(tmp_path, GPX, "both.gpx")
    home = read_route(f"{path}#home  again")
    assert home.name == "Home again"
    assert home.legs[0].lat_from_deg == 47.0
    assert home.path == f"{path}#home  again"
    assert read_route(f"{path}#Out").legs[0].lat_from_deg == 48.0
    drawn = read_route(f"{path}#Drawn")
    assert [leg.lat_to_deg for leg in drawn.legs] == [45.0, 44.0]
    assert "the points of track Drawn are taken as waypoints" in drawn.notes
    for name, says in ((path, "both.gpx#Out"), (f"{path}#West", "It holds Out, Home again, Drawn")):
        with pytest.raises(RouteError) as caught:
            read_route(name)
        assert says in str(caught.value)
    table = saved(tmp_path, TABLE, "table.csv")
    with pytest.raises(RouteError, match="only GPX files have"):
        read_route(f"{table}#Out")
    twice = saved(tmp_path, GPX.replace("Home again", "Out"), "twice.gpx")
    with pytest.raises(RouteError, match="2 routes named Out"):
        read_route(f"{twice}#Out")
    odd = saved(tmp_path, TABLE, "a#b.csv")
    assert read_route(odd).legs


def test_the_file_of_a_chosen_route_is_never_overwritten(tmp_path):
    path = saved(tmp_path, GPX, "both.gpx")
    words = ["plan", f"{path}#Out", "--vessel", "x.toml", "--forecast", "y.nc", "--departure",
             "2026-03-14T06:00Z", "-o", str(path), "--force"]  # fmt: skip
    done = CliRunner().invoke(group, words, standalone_mode=False)
    assert isinstance(done.exception, OutputError)
    assert "is the file given as ROUTE" in str(done.exception)
