"""Mutated route files: a route or one message in words, never anything else."""

import contextlib
import random
import re

import pytest

from passage.errors import RouteError
from passage.inputs.route import (
    Waypoint,
    make_track,
    read_route,
    write_csv,
    write_exchange,
    write_geojson,
    write_gpx,
)
from passage.inputs.route.build import build_route

MUTANTS = 300

SPICE = [
    b"nan", b"inf", b"-inf", b"1e999", b"99999999999999999999", b"-", b"", b",", b";", b"\x00",
    b"\xff", b"\xef\xbb\xbf", b"<", b">", b"&", b"&#0;", b"&x;", b'"', b"'", b"\n", b"\r", b"{",
    b"}", b"[", b"]", b"null", b"true", b"<!DOCTYPE a>", b"<?xml version='1.1'?>", b"95", b"181",
    b"60", b"N", b"S", b"48,5", "٣".encode(), "\u202e".encode(), b"0001-01-01T00:00:00Z",
    b"9999-12-31T24:00:00Z", b"P99999999999D", b"PK\x03\x04", b"<![CDATA[", b"]]>", b"\\", b"#",
]  # fmt: skip


def seed_files(folder):
    route = build_route(
        "x",
        "Invented",
        [
            Waypoint(name="A", lat_deg=48.3, lon_deg=-4.6),
            Waypoint(
                name="B", lat_deg=45.0, lon_deg=-8.0, kind="great circle", speed_kn=11.0, stay_h=3.0
            ),
            Waypoint(name="C", lat_deg=43.6, lon_deg=-8.3, stay_h=30.0),
        ],
    )
    times = [1.7e9 + 36_000.0 * k for k in range(len(route.legs) + 1)]
    route = route.with_schedule(times[:-1], times[1:])
    write_csv(route, folder / "a.csv")
    write_gpx(route, folder / "a.gpx")
    write_geojson(route, folder / "a.geojson")
    write_exchange(route, folder / "a.rtz")
    return [folder / f"a.{ending}" for ending in ("csv", "gpx", "geojson", "rtz")]


def mutate(data, chance):
    data = bytearray(data)
    for _ in range(chance.randint(1, 3)):
        at = chance.randrange(len(data) + 1)
        kind = chance.randrange(6)
        if kind == 0:
            data[at:at] = chance.choice(SPICE)
        elif kind == 1:
            del data[at : at + chance.randint(1, 30)]
        elif kind == 2:
            del data[at:]
        elif kind == 3 and at < len(data):
            data[at] = chance.randrange(256)
        elif kind == 4:
            piece = data[at : at + chance.randint(1, 60)]
            data[at:at] = piece * chance.randint(1, 3)
        else:
            # A value swapped for a spiteful one hits the parsers, not the syntax.
            spans = [m.span() for m in re.finditer(rb"[0-9][0-9.:TZ-]*", bytes(data))]
            if spans:
                first, last = chance.choice(spans)
                data[first:last] = chance.choice(SPICE)
        if not data:
            break
    return bytes(data)


@pytest.mark.parametrize("ending", ["csv", "gpx", "geojson", "rtz"])
def test_mutants_give_a_sound_route_or_one_message(tmp_path, ending):
    source = next(p for p in seed_files(tmp_path) if p.suffix == f".{ending}")
    sound = source.read_bytes()
    chance = random.Random(f"passage {ending}")
    path = tmp_path / "mutant"
    read = 0
    for _ in range(MUTANTS):
        path.write_bytes(mutate(sound, chance))
        with contextlib.suppress(RouteError):
            route = read_route(path)
            read += 1
            assert route.legs
            for leg in route.legs:
                assert -90.0 < leg.lat_to_deg < 90.0
                assert -180.0 <= leg.lon_to_deg < 180.0
                assert 0.0 <= leg.distance_m < 4.1e7
                assert leg.speed_kn is None or 0.0 < leg.speed_kn <= 80.0
                assert 0.0 <= leg.stay_h <= 8760.0
            with contextlib.suppress(RouteError):
                assert len(make_track(route, 10.0, minutes=600.0)) > 0
    # Some mutants are harmless and must still be read, or the test tests nothing.
    assert 0 < read < MUTANTS


@pytest.mark.parametrize("ending", ["csv", "gpx", "geojson", "rtz"])
def test_message_of_a_mutant_names_the_file(tmp_path, ending):
    source = next(p for p in seed_files(tmp_path) if p.suffix == f".{ending}")
    chance = random.Random(f"words {ending}")
    path = tmp_path / "mutant file"
    for _ in range(60):
        path.write_bytes(mutate(source.read_bytes(), chance))
        try:
            read_route(path)
        except RouteError as err:
            message = str(err)
        else:
            continue
        assert all("mutant file" in line for line in message.splitlines()[:1])
        assert "Traceback" not in message
        assert all(line.isprintable() for line in message.splitlines())
