"""GPX, GeoJSON and the IEC 61174 route exchange format, read and written."""

import io
import json
import zipfile

import pytest

from passage.errors import OutputError, RouteError
from passage.inputs.route import (
    Waypoint,
    read_route,
    write_csv,
    write_exchange,
    write_geojson,
    write_gpx,
)
from passage.inputs.route.build import build_route

# 2026-03-14T06:00Z and an hour, in seconds since 1970 (date arithmetic by hand:
# 56 years with 14 leap days and 72 days are 20526 days).
START_S = 20526 * 86400.0 + 6 * 3600.0
HOUR_S = 3600.0


def save(tmp_path, text, name):
    path = tmp_path / name
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return path


def refused(tmp_path, text, name):
    with pytest.raises(RouteError) as caught:
        read_route(save(tmp_path, text, name))
    return str(caught.value)


# --- GPX

GPX = """<?xml version="1.0"?>
<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1">
{}
</gpx>"""


def test_gpx_route_is_read(tmp_path):
    body = """<wpt lat="1" lon="2"><name>buoy</name></wpt>
    <rte><name>Out &amp; home</name>
      <rtept lat="48.5" lon="-5.25"><ele>0</ele><name>A</name></rtept>
      <rtept lat="47" lon="-6"/>
    </rte>"""
    route = read_route(save(tmp_path, GPX.format(body), "x.gpx"))
    assert route.name == "Out & home"
    leg = route.legs[0]
    assert (leg.name_from, leg.lat_from_deg, leg.lon_from_deg) == ("A", 48.5, -5.25)
    assert leg.label == "A to WP2"
    assert leg.kind == "rhumb"


@pytest.mark.parametrize(
    ("body", "words"),
    [
        ("<trk><trkseg><trkpt lat='1' lon='2'/></trkseg></trk>", "holds a track (trk)"),
        ("<wpt lat='1' lon='2'/><wpt lat='2' lon='2'/>", "single waypoints"),
        ("", "holds no route"),
        ("<rte><rtept lat='1' lon='1'/></rte>", "at least two"),
        ("<rte><rtept lat='1'/><rtept lat='99' lon='1'/></rte>", "longitude is empty"),
        (
            "<rte><name>a</name><rtept lat='1' lon='1'/></rte><rte><rtept/></rte>",
            "holds 2 routes (a, without a name)",
        ),
    ],
)
def test_gpx_without_a_route_says_how_to_make_one(tmp_path, body, words):
    assert words in refused(tmp_path, GPX.format(body), "x.gpx")


# --- GeoJSON


def line(coordinates, kind="LineString", **properties):
    return {
        "type": "Feature",
        "properties": properties,
        "geometry": {"type": kind, "coordinates": coordinates},
    }


@pytest.mark.parametrize("wrap", ["geometry", "feature", "collection"])
def test_geojson_line_is_read_bare_or_in_features(tmp_path, wrap):
    feature = line([[-5, 48.5, 0], [-6, 47]], name="Out")
    point = {"type": "Feature", "geometry": {"type": "Point", "coordinates": [0, 0]}}
    data = {
        "geometry": feature["geometry"],
        "feature": feature,
        "collection": {"type": "FeatureCollection", "features": [point, feature]},
    }[wrap]
    route = read_route(save(tmp_path, json.dumps(data), "track.geojson"))
    assert route.name == ("track" if wrap == "geometry" else "Out")
    assert route.legs[0].lat_from_deg == 48.5
    assert route.legs[0].lon_from_deg == -5.0


@pytest.mark.parametrize(
    ("kind", "coordinates"),
    [
        ("LineString", [[179, -17], [181, -18]]),
        ("LineString", [[179, -17], [-179, -18]]),
        # Cut as RFC 7946, 3.1.9 asks.
        ("MultiLineString", [[[179, -17], [180, -17.5]], [[-180, -17.5], [-179, -18]]]),
    ],
)
def test_geojson_over_the_antimeridian(tmp_path, kind, coordinates):
    text = json.dumps(line(coordinates, kind))
    route = read_route(save(tmp_path, text, "x.json"))
    assert len(route.legs) == 1
    assert route.legs[0].lon_from_deg == 179.0
    assert route.legs[0].lon_to_deg == -179.0
    assert route.legs[0].distance_m < 250_000


def test_geojson_waypoint_on_the_antimeridian_is_kept(tmp_path):
    parts = [[[179, -17], [180, -10]], [[-180, -10], [-179, -18]]]
    text = json.dumps(line(parts, "MultiLineString"))
    route = read_route(save(tmp_path, text, "x.json"))
    assert [leg.lat_to_deg for leg in route.legs] == [-10.0, -18.0]


@pytest.mark.parametrize(
    ("data", "words"),
    [
        ({"type": "FeatureCollection", "features": []}, "holds no LineString"),
        ({"type": "FeatureCollection", "features": 7}, "holds no LineString"),
        ([1, 2], "holds no LineString"),
        (line([[48.5, -95], [47, -96]]), "longitude first"),
        (line([[1, 2], ["3", 4]]), "coordinates[1]: is not a position"),
        (line([[1, 2], [True, 4]]), "is not a position"),
        (line([[1, 2], [400, 4]]), "beyond 360"),
        (line([[1, 2], [10**400, 4]]), "beyond 90"),
        (line([]), "not lists of positions"),
        (line([[1, 2], [3, 4]], waypoints=[{"name": "A"}]), "one entry for each of 2"),
        (
            line([[1, 2], [3, 4]], waypoints=[{}, {"leg": "zigzag", "speed_kn": -1}]),
            "zigzag",
        ),
        ({"type": "FeatureCollection", "features": [line([[1, 2], [3, 4]])] * 2}, "2 lines"),
        (line([[[1, 2], [3, 4]], [[5, 6], [7, 8]]], "MultiLineString"), "do not meet"),
        ({**line([[1, 2], [3, 4]]), "crs": {"name": "EPSG:25832"}}, "reference system"),
    ],
)
def test_broken_geojson_is_refused_in_words(tmp_path, data, words):
    assert words in refused(tmp_path, json.dumps(data), "x.geojson")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('{"type": "LineString",\n "coordinates": [[1, 2], [3, 4]', "x.geojson:2: is not JSON"),
        ('{"type": "LineString", "coordinates": [[1, NaN], [3, 4]]}', "holds NaN"),
        ('{"a":' * 100_000, "nested deeper than 40 levels"),
        ("[" * 100_000, "nested deeper than 40 levels"),
    ],
)
def test_text_that_is_not_json_is_refused_in_words(tmp_path, text, words):
    assert words in refused(tmp_path, text, "x.geojson")


# --- IEC 61174 route exchange

WAYPOINTS = """<waypoints>
  <defaultWaypoint radius="0.5"><leg geometryType="Orthodrome" speedMax="14"/></defaultWaypoint>
  <waypoint id="30" name="A"><position lat="47.5" lon="-52.5"/>
    <leg geometryType="Loxodrome"/></waypoint>
  <waypoint id="7" revision="1" name="B"><position lat="47.6" lon="-52.0"/>
    <leg geometryType="Loxodrome"/></waypoint>
  <waypoint id="12"><position lat="51.2" lon="-9.8"/><leg legInfo="ocean"/></waypoint>
  <waypoint id="0" name="D"><position lat="51.6" lon="-5.2"/>
    <leg geometryType="loxodrome"/></waypoint>
</waypoints>"""


def exchange(body, version="1.1", namespace="1/1"):
    return (
        f'<?xml version="1.0" encoding="UTF-8"?>\n<route version="{version}" '
        f'xmlns="http://www.cirm.org/RTZ/{namespace}"><routeInfo routeName="Test route"/>'
        f"\n{body}</route>"
    )


@pytest.mark.parametrize(("version", "namespace"), [("1.0", "1/0"), ("1.1", "1/1"), ("1.2", "1/2")])
def test_exchange_takes_document_order_and_the_default_leg(tmp_path, version, namespace):
    # Rules: IEC 61174:2015 Annex S. The leg element is at the waypoint the leg ends
    # at; what it leaves out comes from the default waypoint; order is document order.
    text = exchange(WAYPOINTS, version, namespace)
    route = read_route(save(tmp_path, text, "x.rtz"))
    assert route.name == "Test route"
    assert [leg.label for leg in route.legs] == ["A to B", "B to WP3", "WP3 to D"]
    assert [leg.kind for leg in route.legs] == ["rhumb", "great circle", "rhumb"]
    assert all(leg.speed_kn is None for leg in route.legs)
    assert route.notes == ("speed limits of the legs (speedMin, speedMax) are not used",)


@pytest.mark.parametrize(
    ("tag", "version", "stay", "wind_kn"),
    [
        # Annex S, schema 1.0 spells the element so and gives wind in m/s: 10 m/s = 19.4 kn.
        ("sheduleElement", "1.0", "02:30:00", "19 kn"),
        ("scheduleElement", "1.1", "02:30:00", "10 kn"),
        # IEC PAS 61174-1:2021, schema 1.2: a duration.
        ("scheduleElement", "1.2", "PT2H30M", "10 kn"),
        # Spellings met in files against their schema.
        ("scheduleElement", "1.0", "PT2H30M", "19 kn"),
        ("sheduleElement", "1.1", "PT150M", "10 kn"),
    ],
)
def test_exchange_schedule_in_both_spellings(tmp_path, tag, version, stay, wind_kn):
    body = f"""{WAYPOINTS}<schedules><schedule id="1" name="plan">
      <manual><{tag} waypointId="7" stay="{stay}" speed="11.5"/></manual>
      <calculated>
        <{tag} waypointId="30" etd="2026-03-14T06:00:00Z"/>
        <{tag} waypointId="7" eta="2026-03-14T08:00:00Z" etd="2026-03-14T11:30:00+01:00"
           speed="9" windSpeed="10" windDirection="270"/>
        <{tag} waypointId="12" eta="2026-03-16T08:00:00Z" speed="0"/>
        <{tag} waypointId="99" eta="2026-03-16T08:00:00Z"/>
      </calculated></schedule></schedules>"""
    text = exchange(body, version, version.replace(".", "/"))
    route = read_route(save(tmp_path, text, "x.rtz"))
    first, stay_leg, ocean, last = route.legs
    assert first.speed_kn == 11.5
    assert (first.etd_s, first.eta_s) == (START_S, START_S + 2 * HOUR_S)
    assert (stay_leg.kind, stay_leg.stay_h) == ("stay", 2.5)
    assert (stay_leg.etd_s, stay_leg.eta_s) == (first.eta_s, START_S + 4.5 * HOUR_S)
    assert (ocean.etd_s, ocean.eta_s) == (START_S + 4.5 * HOUR_S, START_S + 50 * HOUR_S)
    assert ocean.speed_kn is None
    assert (last.etd_s, last.eta_s) == (None, None)
    notes = " | ".join(route.notes)
    assert f"up to {wind_kn}) is not used" in notes
    assert "waypoint '99', which is not in the file" in notes


def test_exchange_stay_follows_from_the_times(tmp_path):
    body = (
        WAYPOINTS
        + """<schedules><schedule id="1"><manual>
      <scheduleElement waypointId="7" eta="2026-03-14T08:00:00" etd="2026-03-14T09:00:00"/>
      </manual></schedule><schedule id="2"><manual>
      <scheduleElement waypointId="7" eta="2027-03-14T08:00:00"/></manual></schedule>
      </schedules>"""
    )
    route = read_route(save(tmp_path, exchange(body), "x.rtz"))
    assert route.legs[1].kind == "stay"
    assert route.legs[1].stay_h == 1.0
    notes = " | ".join(route.notes)
    assert "2 schedules in the file; the first" in notes
    assert "without a zone are read as UTC" in notes


def test_exchange_schedule_that_runs_backwards_is_left_out_and_reported(tmp_path):
    body = (
        WAYPOINTS
        + """<schedules><schedule id="1"><manual>
      <scheduleElement waypointId="30" etd="2026-03-14T08:00:00Z"/>
      <scheduleElement waypointId="7" eta="2026-03-14T06:30:00Z" speed="8"/>
      </manual></schedule></schedules>"""
    )
    route = read_route(save(tmp_path, exchange(body), "x.rtz"))
    assert all(leg.etd_s is None and leg.eta_s is None for leg in route.legs)
    assert route.legs[0].speed_kn == 8.0
    assert any("arrival at B is 1.5 h before" in note for note in route.notes)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (exchange(WAYPOINTS, "2.0"), "'2.0' is not one of 1.0, 1.1, 1.2"),
        (exchange("<waypoints/>"), "holds no waypoints"),
        (exchange(""), "holds no waypoints"),
        (exchange(WAYPOINTS.replace('lat="47.6"', 'lat="147.6"')), "x.rtz:7: latitude"),
        (exchange(WAYPOINTS.replace('lat="47.6"', "")), "latitude is empty"),
        (exchange(WAYPOINTS.replace('<position lat="47.6" lon="-52.0"/>', "")), "no position"),
        (exchange(WAYPOINTS.replace('"loxodrome"', '"spiral"')), "spiral"),
        (
            exchange(
                WAYPOINTS + '<schedules><schedule id="1"><manual><scheduleElement waypointId="7" '
                'eta="1926-03-14T06:00:00Z" stay="an hour"/></manual></schedule></schedules>'
            ),
            "check the year",
        ),
        ("<kml><Document/></kml>", "its first element is <kml>"),
        (exchange(WAYPOINTS)[:-9], "not well-formed"),
    ],
)
def test_broken_exchange_is_refused_in_words(tmp_path, text, words):
    assert words in refused(tmp_path, text, "x.rtz")


def test_exchange_with_doubled_numbers_uses_no_schedule(tmp_path):
    body = WAYPOINTS.replace('id="7"', 'id="30"') + (
        '<schedules><schedule id="1"><manual><scheduleElement waypointId="30" speed="9"/>'
        "</manual></schedule></schedules>"
    )
    route = read_route(save(tmp_path, exchange(body), "x.rtz"))
    assert route.legs[0].speed_kn is None
    assert any("occur twice in the file" in note for note in route.notes)


# --- XML of ill will

BOMB = """<?xml version="1.0"?><!DOCTYPE lolz [<!ENTITY lol "lol">
<!ENTITY lol2 "&lol;&lol;&lol;&lol;&lol;&lol;&lol;&lol;&lol;&lol;">]>
<gpx><rte><name>&lol2;</name></rte></gpx>"""
EXTERNAL = """<?xml version="1.0"?><!DOCTYPE x [<!ENTITY e SYSTEM "file:///etc/passwd">]>
<route version="1.1"><routeInfo routeName="&e;"/></route>"""
DOCTYPE = '<?xml version="1.0"?><!DOCTYPE gpx SYSTEM "http://x.invalid/g.dtd"><gpx/>'


@pytest.mark.parametrize("text", [BOMB, EXTERNAL, DOCTYPE], ids=["bomb", "external", "dtd"])
def test_document_types_and_entities_are_refused(tmp_path, text):
    message = refused(tmp_path, text, "x.gpx")
    assert "document type or entities" in message
    assert "root:" not in message


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"<gpx>" + b"<a>" * 100_000, "nested deeper"),
        (b"<gpx>" + b"<a/>" * 250_000 + b"</gpx>", "longer than"),
        (b'<?xml version="1.0" encoding="utf-99"?><gpx/>', "x.gpx"),
        (b"<gpx>\xff\xfe</gpx>", "not well-formed"),
        (b"<", "not well-formed"),
        (b"<gpx><rte><rtept lat='1' lon='1'/>&nbsp;</rte></gpx>", "not well-formed"),
    ],
)
def test_xml_out_of_bounds_is_refused(tmp_path, data, words):
    assert words in refused(tmp_path, data, "x.gpx")


def test_xml_in_utf_16_and_with_a_mark(tmp_path):
    body = "<rte><rtept lat='1' lon='1'><name>Å</name></rtept><rtept lat='2' lon='1'/></rte>"
    text = GPX.format(body).replace('<?xml version="1.0"?>', "")
    for data in (text.encode("utf-16"), b"\xef\xbb\xbf" + text.encode()):
        assert read_route(save(tmp_path, data, "x.gpx")).legs[0].name_from == "Å"


# --- the zip container


def zipped(files, **options):
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED, **options) as archive:
        for name, content in files:
            archive.writestr(name, content)
    return buffer.getvalue()


def test_container_with_one_route_is_read(tmp_path):
    data = zipped([("a.rtz", exchange(WAYPOINTS, "1.2", "1/2")), ("notes/n.txt", "n")])
    route = read_route(save(tmp_path, data, "x.rtzp"))
    assert route.name == "Test route"
    assert route.path.endswith("x.rtzp (a.rtz)")


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (zipped([("a.txt", "x")]), "holds 0 route files"),
        (zipped([("a.rtz", "x"), ("b.RTZ", "x")]), "holds 2 route files"),
        (zipped([("../a.rtz", "x")]), "points outside"),
        (zipped([("a.rtz", "x"), ("/etc/passwd", "x")]), "points outside"),
        (zipped([("a.rtz", "x"), ("..\\up.txt", "x")]), "points outside"),
        (zipped([("a.rtz", "x"), ("C:\\up.txt", "x")]), "points outside"),
        (zipped([("a.rtz", b" " * 10_000_001)]), "larger than 10 MB"),
        (zipped([(f"{i}.txt", "") for i in range(501)]), "holds 501 files"),
        (zipped([("a.rtz", exchange(WAYPOINTS))])[:-30], "cannot be opened"),
        (b"PK\x03\x04" + bytes(50), "cannot be opened"),
        (zipped([("a.rtz", zipped([("a.rtz", "x")]))]), "a.rtz"),
    ],
)
def test_a_hostile_container_is_refused(tmp_path, data, words):
    assert words in refused(tmp_path, data, "x.rtzp")


def test_locked_container_is_refused(tmp_path):
    data = bytearray(zipped([("a.rtz", exchange(WAYPOINTS))]))
    # The flag for encryption, in the local and the central header.
    data[6] |= 1
    data[data.index(b"PK\x01\x02") + 8] |= 1
    assert "locked by a password" in refused(tmp_path, bytes(data), "x.rtzp")


# --- writing


def test_exchange_is_written_as_version_1_1_says(tmp_path):
    # Element and attribute names and their order: schema 1.1 of Annex S.
    route = build_route(
        "x",
        'A "quoted" <route>',
        [
            Waypoint(name="A & B", lat_deg=50.0, lon_deg=-1.5),
            Waypoint(
                name="C", lat_deg=50.5, lon_deg=-3.0, kind="great circle", speed_kn=11.0, stay_h=2.0
            ),
            Waypoint(name="D", lat_deg=48.0, lon_deg=1e-7, stay_h=30.0),
        ],
    )
    times = [START_S + k * HOUR_S for k in (0, 6, 8, 30)]
    path = tmp_path / "plan.rtz"
    write_exchange(
        route,
        path,
        etd_s=times,
        eta_s=[times[1], times[2], times[3], None],
        speed_kn=[10.5, None, 9.25, float("nan")],
        author="passage",
    )
    assert path.read_text() == (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        '<route version="1.1" xmlns="http://www.cirm.org/RTZ/1/1">\n'
        '  <routeInfo routeName=\'A "quoted" &lt;route&gt;\' routeAuthor="passage"/>\n'
        "  <waypoints>\n"
        '    <waypoint id="1" revision="0" name="A &amp; B">\n'
        '      <position lat="50.0" lon="-1.5"/>\n'
        "    </waypoint>\n"
        '    <waypoint id="2" revision="0" name="C">\n'
        '      <position lat="50.5" lon="-3.0"/>\n'
        '      <leg geometryType="Orthodrome"/>\n'
        "    </waypoint>\n"
        '    <waypoint id="3" revision="0" name="D">\n'
        '      <position lat="48.0" lon="0.0000001"/>\n'
        '      <leg geometryType="Loxodrome"/>\n'
        "      <extensions>\n"
        '        <extension manufacturer="passage" name="stay" version="1.0" hours="30.0"/>\n'
        "      </extensions>\n"
        "    </waypoint>\n"
        "  </waypoints>\n"
        "  <schedules>\n"
        '    <schedule id="1" name=\'A "quoted" &lt;route&gt;\'>\n'
        "      <manual>\n"
        '        <scheduleElement waypointId="2" stay="02:00:00" speed="11.0"/>\n'
        "      </manual>\n"
        "      <calculated>\n"
        '        <scheduleElement waypointId="1" etd="2026-03-14T06:00:00Z"/>\n'
        '        <scheduleElement waypointId="2" etd="2026-03-14T14:00:00Z" '
        'eta="2026-03-14T12:00:00Z" speed="10.5"/>\n'
        '        <scheduleElement waypointId="3" eta="2026-03-15T12:00:00Z" speed="9.25"/>\n'
        "      </calculated>\n"
        "    </schedule>\n"
        "  </schedules>\n"
        "</route>\n"
    )
    again = read_route(path)
    assert [leg.speed_kn for leg in again.legs] == [11.0, None, 9.25, None]
    assert [leg.stay_h for leg in again.legs] == [0.0, 2.0, 0.0, 30.0]


def test_schedule_needs_a_value_per_leg():
    route = build_route(
        "x",
        "x",
        [Waypoint(name="A", lat_deg=0, lon_deg=0), Waypoint(name="B", lat_deg=1, lon_deg=0)],
    )
    with pytest.raises(ValueError, match="argument"):
        route.with_schedule([1.0, 2.0], [3.0])


@pytest.mark.parametrize("write", [write_csv, write_gpx, write_geojson, write_exchange])
def test_nothing_is_overwritten_unless_forced(tmp_path, write):
    route = build_route(
        "x",
        "x",
        [Waypoint(name="A", lat_deg=0, lon_deg=0), Waypoint(name="B", lat_deg=1, lon_deg=0)],
    )
    path = tmp_path / "out"
    path.write_text("mine")
    with pytest.raises(OutputError, match="exists already"):
        write(route, path)
    assert path.read_text() == "mine"
    write(route, path, force=True)
    assert len(read_route(path).legs) == 1
    assert [p.name for p in tmp_path.iterdir()] == ["out"]


def test_geojson_is_cut_at_the_antimeridian(tmp_path):
    # RFC 7946, 3.1.9.
    route = build_route(
        "x",
        "x",
        [
            Waypoint(name="A", lat_deg=-17, lon_deg=179),
            Waypoint(name="B", lat_deg=-18, lon_deg=-179),
        ],
    )
    write_geojson(route, tmp_path / "x.geojson")
    geometry = json.loads((tmp_path / "x.geojson").read_text())["features"][0]["geometry"]
    assert geometry == {
        "type": "MultiLineString",
        "coordinates": [[[179, -17], [180, -17.5]], [[-180, -17.5], [-179, -18]]],
    }
