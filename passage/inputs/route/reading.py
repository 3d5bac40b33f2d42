"""Open a route file, whatever it is, and hand its text to the right reader."""

from __future__ import annotations

import codecs
from pathlib import Path

from passage.errors import RouteError
from passage.inputs.route.csv_file import parse_csv
from passage.inputs.route.model import Route
from passage.inputs.route.text import clean_name

#: Routes are a few kilobytes; ten megabytes is another kind of file [bytes].
MAX_BYTES = 10_000_000

_ENDINGS = "CSV (.csv), GPX 1.1 (.gpx), GeoJSON (.geojson), IEC 61174 route exchange (.rtz)"


def read_route(path: str | Path) -> Route:
    """Read and check a route.

    Parameters
    ----------
    path
        CSV, GPX, GeoJSON or IEC 61174 route exchange. What it is, is told from what
        stands in it, not from its ending.

    Returns
    -------
    Route

    Raises
    ------
    RouteError
        With every problem of the file in one message.
    """
    path = Path(path)
    data = _read_bytes(path)
    text = _decode(data, path)
    name = clean_name(path.stem, "route")
    return parse_csv(text, file=path.name, name=name)


def _read_bytes(path: Path) -> bytes:
    if path.is_dir():
        raise RouteError(f"{path}: is a folder. Give a route file: {_ENDINGS}.")
    if not path.is_file():
        raise RouteError(f"{path}: does not exist or is not a file. Check the name.")
    try:
        with path.open("rb") as handle:
            data = handle.read(MAX_BYTES + 1)
    except OSError as err:
        raise RouteError(f"{path}: cannot be read: {err.strerror}.") from err
    if len(data) > MAX_BYTES:
        raise RouteError(
            f"{path}: is larger than {MAX_BYTES // 1_000_000} MB, which no route is. "
            "Is it another kind of file?"
        )
    if not data.strip(b"\x00 \t\r\n\xef\xbb\xbf"):
        raise RouteError(f"{path}: is empty. Give a route file: {_ENDINGS}.")
    return data


def _decode(data: bytes, path: Path) -> str:
    encoding = "utf-8-sig"
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        encoding = "utf-16"
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError as err:
        line = data.count(b"\n", 0, err.start) + 1
        raise RouteError(
            f"{path}:{line}: is not UTF-8 text. Save it as UTF-8, or check that it is a route file."
        ) from err
    if "\x00" in text:
        raise RouteError(f"{path}: holds binary data. Give a route file: {_ENDINGS}.")
    return text
