"""Routes from tables: what is read, and what is refused in words."""

import math
from pathlib import Path

import pytest

from passage.errors import RouteError
from passage.inputs.route import read_route
from passage.inputs.route.csv_file import parse_csv

HEADER = "name,lat,lon,leg,speed_kn,stay_h\n"


def write(tmp_path, text, name="route.csv"):
    path = tmp_path / name
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return path


def complaint(tmp_path, text, name="route.csv"):
    with pytest.raises(RouteError) as caught:
        read_route(write(tmp_path, text, name))
    assert caught.value.exit_code == 3
    return str(caught.value)


def test_legs_take_their_kind_and_speed_from_the_waypoint_they_end_at(tmp_path):
    route = read_route(
        write(
            tmp_path,
            HEADER
            + "Start,48 20.0 N,4 40.0 W,,,\n"
            + "Anchorage,48.6,-5.6,,11,2.5\n"
            + "Corner,45°00.0'N,8°00.0'W,great circle,,\n",
        )
    )
    first, stay, second = route.legs
    assert route.name == "route"
    assert (first.name_from, first.name_to, first.kind) == ("Start", "Anchorage", "rhumb")
    assert first.speed_kn == 11.0
    assert first.lat_from_deg == pytest.approx(48.0 + 20.0 / 60.0, rel=1e-6)
    assert (stay.kind, stay.stay_h, stay.distance_m) == ("stay", 2.5, 0.0)
    assert math.isnan(stay.course_true_deg)
    assert stay.label == "stay at Anchorage"
    assert (second.kind, second.speed_kn) == ("great circle", None)
    assert second.lat_to_deg == 45.0
    assert second.lon_to_deg == -8.0
    assert route.distance_m == pytest.approx(first.distance_m + second.distance_m, rel=1e-6)


def test_one_degree_of_latitude_has_its_length(tmp_path):
    # Length of a degree of latitude from 0 to 1 on WGS84: 110 574.4 m, from memory.
    route = read_route(write(tmp_path, "name,lat,lon\nA,0,0\nB,1,0\n"))
    assert route.legs[0].distance_m == pytest.approx(110574.4, abs=0.1)
    assert route.legs[0].course_true_deg == 0.0


def test_waypoints_give_the_file_back(tmp_path):
    route = read_route(write(tmp_path, HEADER + "A,50,0,,,1\nB,51,1,gc,9.5,\nC,52,1,,,3\n"))
    points = route.waypoints
    assert [p.name for p in points] == ["A", "B", "C"]
    assert [p.stay_h for p in points] == [1.0, 0.0, 3.0]
    assert [p.kind for p in points[1:]] == ["great circle", "rhumb"]
    assert [leg.kind for leg in route.legs] == ["stay", "great circle", "rhumb", "stay"]


@pytest.mark.parametrize(
    "word", ["rhumb", "Rhumb line", "RHUMB-LINE", "great circle", "gc", "Great-Circle"]
)
def test_words_for_the_kind_of_leg(tmp_path, word):
    route = read_route(write(tmp_path, f"{HEADER}A,50,0,,,\nB,51,1,{word},,\n"))
    expected = "great circle" if word.lower().startswith("g") else "rhumb"
    assert route.legs[0].kind == expected


@pytest.mark.parametrize("separator", [";", "\t"])
def test_other_separators_are_read_and_reported(tmp_path, separator):
    text = "name,lat,lon\nA,50,0\nB,51,1\n".replace(",", separator)
    route = read_route(write(tmp_path, text))
    assert len(route.legs) == 1
    assert "separated by" in route.notes[0]


@pytest.mark.parametrize(
    "encode",
    [
        lambda text: b"\xef\xbb\xbf" + text.encode(),
        lambda text: text.encode("utf-16"),
        lambda text: text.replace("\n", "\r\n").encode(),
        lambda text: text.replace("\n", "\r").encode(),
    ],
    ids=["utf-8 with mark", "utf-16", "crlf", "cr"],
)
def test_marks_and_line_ends_of_other_systems(tmp_path, encode):
    route = read_route(write(tmp_path, encode("name,lat,lon\nBåt,50,0\nB,51,1\n")))
    assert route.legs[0].name_from == "Båt"


def test_remarks_order_and_case_of_columns_and_unknown_columns(tmp_path):
    route = read_route(
        write(
            tmp_path,
            "# an invented route\nLon, Lat,NAME,pilot\n-4,48,A,\n\n# more\n-5,48,B,yes\n",
            "Ärger am Kap.csv",
        )
    )
    assert route.name == "Ärger am Kap"
    assert route.legs[0].lon_to_deg == -5.0
    assert route.notes == ("column 'pilot' is not used",)


def test_longitudes_to_360_and_over_the_antimeridian(tmp_path):
    route = read_route(write(tmp_path, "name,lat,lon\nA,-17,179\nB,-17,181\n"))
    leg = route.legs[0]
    assert leg.lon_to_deg == -179.0
    assert leg.course_true_deg == pytest.approx(90.0, rel=1e-6)
    assert leg.distance_m == pytest.approx(2 * 106_500, rel=0.01)


def test_speed_on_the_first_row_is_reported_and_names_are_made_up(tmp_path):
    route = read_route(write(tmp_path, HEADER + ",50,0,,12,\n,51,0,,,\n"))
    assert route.legs[0].label == "WP1 to WP2"
    assert route.legs[0].speed_kn is None
    assert "first waypoint" in route.notes[0]


def test_all_problems_come_in_one_message_with_their_lines(tmp_path):
    text = complaint(
        tmp_path,
        HEADER
        + "A,95 N,0,,,\n"
        + '"B, outer",50 60.0 N,0,zigzag,-3,\n'
        + "C,51,nan,,fast,9000\n"
        + "D,51,1,,,-1\n",
    )
    lines = text.splitlines()
    assert len(lines) == 8
    assert [line.split("route.csv:")[1].split(":")[0] for line in lines] == list("23334445")
    for words in (
        "beyond 90",
        "60.0 minutes",
        "zigzag",
        "speed_kn = -3",
        "not a number",
        "fast",
        "stay_h = 9000 h must be at least 0 and at most 8760 h",
        "stay_h = -1",
    ):
        assert words in text


BROKEN = {
    "empty": (b"", "is empty"),
    "blank": (b"\n \n", "is empty"),
    "header only": (HEADER, "holds 0 waypoint"),
    "one waypoint": ("name,lat,lon\nA,50,0\n", "at least two"),
    "no header": ("A,50,0\nB,51,0\n", "the header lacks name, lat, lon"),
    "misspelt column": ("name,lat,lon,speed\nA,50,0,9\nB,51,0,9\n", "Did you mean speed_kn"),
    "column twice": ("name,lat,lon,lat\nA,50,0,1\nB,51,0,1\n", "twice"),
    "decimal comma": ("name,lat,lon\nA,50,1,0\nB,51,0\n", "decimal comma"),
    "decimal comma quoted": ('name,lat,lon\nA,"50,1",0\nB,51,0\n', "comma"),
    "decimal comma, semicolons": ("name;lat;lon\nA;50,1;0\nB;51;0\n", "decimal point"),
    "mixed separators": ("name,lat;lon\nA,50;0\n", "mixes"),
    "open quote": ('name,lat,lon\nA,50,0\n"B,51,0\n', "quotation mark"),
    "latin-1": ("name,lat,lon\nBåt,50,0\nB,51,0\n".encode("latin-1"), "not UTF-8"),
    "binary": (b"CDF\x01\x00\x00\x00\x00name", "binary data"),
    "hdf5": (b"\x89HDF\r\n\x1a\n" + bytes(20), "not UTF-8"),
    "same place": ("name,lat,lon\nA,50,0\nB,50,0\n", "no length"),
    "swapped": ("name,lat,lon\nA,4.5 W,48 N\nB,5.5 W,48 N\n", "may be swapped"),
    "half-way round": ("name,lat,lon\nA,10,0\nB,20,180\n", "half-way round"),
    "antipodes": ("name,lat,lon,leg\nA,10,0,\nB,-10,179.9,gc\n", "opposite sides"),
    "pole": ("name,lat,lon\nA,90,0\nB,89,0\n", "on the pole"),
    "missing cell": ("name,lat,lon\nA,50\nB,51,0\n", "longitude is empty"),
    "inf": ("name,lat,lon,speed_kn\nA,50,0,\nB,51,0,inf\n", "not a number"),
    "zero speed": ("name,lat,lon,speed_kn\nA,50,0,\nB,51,0,0\n", "above 0"),
    "truncated utf-16": ("name,lat,lon\n".encode("utf-16")[:-1], "not UTF-8"),
}


@pytest.mark.parametrize(("text", "words"), BROKEN.values(), ids=BROKEN.keys())
def test_broken_table_is_refused_in_words(tmp_path, text, words):
    message = complaint(tmp_path, text)
    assert words in message
    assert "route.csv" in message


def test_folder_missing_file_and_oversize(tmp_path):
    with pytest.raises(RouteError, match="is a folder"):
        read_route(tmp_path)
    with pytest.raises(RouteError, match="does not exist"):
        read_route(tmp_path / "no such.csv")
    with pytest.raises(RouteError, match="larger than 10 MB"):
        read_route(write(tmp_path, b"#" * 10_000_001))
    with pytest.raises(RouteError, match=r"a.?b\.csv: "):
        read_route("a\x00b.csv")


def test_too_many_waypoints_are_refused(tmp_path):
    rows = "".join(f"W{i},{10 + i * 0.001:.3f},0\n" for i in range(5001))
    assert "more than 5000" in complaint(tmp_path, "name,lat,lon\n" + rows)


def test_example_of_the_documentation_is_read_as_it_says(tmp_path):
    docs = Path(__file__).parents[3] / "docs" / "route-files.md"
    example = docs.read_text(encoding="utf-8").split("```csv\n")[1].split("```")[0]
    route = read_route(write(tmp_path, example))
    assert [leg.kind for leg in route.legs] == ["rhumb", "rhumb", "stay", "great circle"]
    assert [leg.speed_kn for leg in route.legs] == [11.0, 9.0, None, None]
    assert route.notes == ()


def test_a_waypoint_given_twice_is_dropped_with_a_note_and_its_stay_kept():
    head = "name,lat,lon,stay_h\nA,50,179,\n"
    twice = head + "B,50.5,179.99999999,\nB again,50.5,-180,2\nC,51,-179,\n"
    once = head + "B,50.5,179.99999999,2\nC,51,-179,\n"
    one, other = (parse_csv(text, file="r.csv", name="r") for text in (twice, once))
    assert one.legs == other.legs
    assert one.notes == ("B again is at the same place as B before it and is dropped",)
    assert other.notes == ()
