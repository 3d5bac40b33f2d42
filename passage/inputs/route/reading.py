"""Open a route file, whatever it is, and hand its text to the right reader."""

from __future__ import annotations

import codecs
from pathlib import Path

from passage.errors import Problem, RouteError
from passage.files import named_part, why_not_plain
from passage.inputs.bounds import why_not_a_table, why_too_deep
from passage.inputs.route.container import is_zip, open_container
from passage.inputs.route.csv_file import parse_csv
from passage.inputs.route.exchange_read import parse_exchange
from passage.inputs.route.geojson_file import parse_geojson
from passage.inputs.route.gpx_file import parse_gpx
from passage.inputs.route.model import Route
from passage.inputs.route.pasted import is_pasted, parse_pasted
from passage.inputs.route.text import clean_name, printable
from passage.inputs.route.xml_tree import parse_xml

#: Routes are a few kilobytes; ten megabytes is another kind of file [bytes].
MAX_BYTES = 10_000_000

_KINDS = "CSV, GPX 1.1, GeoJSON or IEC 61174 route exchange (.rtz)"
_ONLY_GPX = "names a route after #, which only GPX files have"
_UTF16 = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)


def read_route(path: str | Path) -> Route:
    """Read and check a route.

    Parameters
    ----------
    path
        CSV, GPX, GeoJSON or IEC 61174 route exchange, the last also in its zip
        container. Its content decides what it is, not its ending.
        ``FILE#NAME`` is the route of that name in a GPX file that holds several.

    Returns
    -------
    Route
        With ``notes`` on what the file holds that is not used, for the plan.

    Raises
    ------
    RouteError
        With every problem of the file in one message.
    """
    given = Path(path)
    path, wanted = named_part(given)
    data = _read_bytes(path)
    file = printable(str(given))
    name = clean_name(path.stem, "route")
    if is_zip(data):
        data, inner = open_container(data, file=file, limit_bytes=MAX_BYTES)
        file = f"{file} ({clean_name(inner, 'route')})"
    encoding = "utf-16" if data[:2] in _UTF16 else "utf-8-sig"
    if data[:200].decode(encoding, errors="replace").lstrip()[:1] == "<":
        # XML names its own encoding.
        return _from_xml(data, file, name, wanted)
    if wanted:
        raise _refused(file, _ONLY_GPX, "Give the file alone.")
    text = _decode(data, file)
    if text.lstrip()[:1] in ("{", "["):
        if deep := why_too_deep(text):
            raise _refused(file, deep, "Export the route again.")
        return parse_geojson(text, file=file, name=name)
    if wide := why_not_a_table(text):
        raise _refused(file, wide, "Is it a route? A row is a waypoint.")
    if is_pasted(text):
        return parse_pasted(text, file=file, name=name)
    return parse_csv(text, file=file, name=name)


def _from_xml(data: bytes, file: str, name: str, wanted: str) -> Route:
    root = parse_xml(data, file)
    if root.tag == "gpx":
        return parse_gpx(root, file=file, name=name, wanted=wanted)
    if wanted:
        raise _refused(file, _ONLY_GPX, "Give the file alone.")
    if root.tag == "route":
        return parse_exchange(root, file=file, name=name)
    raise _refused(
        file,
        f"is XML, but its first element is <{clean_name(root.tag, '?')[:40]}>, "
        "not <gpx> or <route>",
        f"Give a route as {_KINDS}.",
        place=str(root.line),
    )


def _read_bytes(path: Path) -> bytes:
    file = printable(str(path))
    try:
        if path.is_dir():
            raise _refused(file, "is a folder", f"Give a route file: {_KINDS}.")
        if not path.exists():
            raise _refused(file, "does not exist", "Check the name and the folder.")
        if odd := why_not_plain(path):
            raise _refused(file, odd, f"Give a file: {_KINDS}.")
        with path.open("rb") as handle:
            data = handle.read(MAX_BYTES + 1)
    except (OSError, ValueError) as err:
        reason = getattr(err, "strerror", None) or err
        raise _refused(file, f"cannot be read: {reason}", "Check it.") from err
    if len(data) > MAX_BYTES:
        raise _refused(
            file,
            f"is larger than {MAX_BYTES // 1_000_000} MB, which no route is",
            "Is it another kind of file?",
        )
    if not data.strip(b"\x00 \t\r\n\xef\xbb\xbf\xff\xfe"):
        raise _refused(file, "is empty", f"Give a route file: {_KINDS}.")
    return data


def _decode(data: bytes, file: str) -> str:
    encoding = "utf-16" if data[:2] in _UTF16 else "utf-8-sig"
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError as err:
        raise _refused(
            file,
            "is not UTF-8 text",
            "Save it as UTF-8, or check that it is a route file.",
            place=str(data.count(b"\n", 0, err.start) + 1),
        ) from err
    if "\x00" in text:
        raise _refused(file, "holds binary data", f"Give a route file: {_KINDS}.")
    return text


def _refused(file: str, what: str, fix: str, place: str = "") -> RouteError:
    return RouteError(str(Problem(file=file, place=place, what=what, fix=fix)))
