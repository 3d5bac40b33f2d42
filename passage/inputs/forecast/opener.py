"""Opening NetCDF, GRIB and Zarr lazily, with the reason in words when it fails."""

from __future__ import annotations

import hashlib
import inspect
import os
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any

from passage.errors import ForecastError, Problem
from passage.files import why_not_plain
from passage.inputs.extras import trouble_with
from passage.inputs.forecast.layout import LayoutError, check_grib, check_netcdf3
from passage.inputs.forecast.plain import open_plain
from passage.inputs.outside import why_store_not_plain
from passage.inputs.probe import LeadsOutside, all_harmless, reason_not_to_open

#: Files up to this size are hashed whole; larger ones by their ends and size.
HASH_WHOLE_BYTES = 2 * 1024**3
_MB = 1024**2
#: Chunks of a variable that the NetCDF library keeps in memory. [bytes]
CHUNK_CACHE_BYTES = 8 * _MB
_NETCDF3 = (b"CDF\x01", b"CDF\x02", b"CDF\x05")
_HDF5 = b"\x89HDF\r\n\x1a\n"


@dataclass
class OpenFile:
    """One file on disk with the lazy datasets it holds (several for GRIB)."""

    path: Path
    format: str
    datasets: list[Any] = field(default_factory=list)

    @property
    def name(self) -> str:
        """Name for messages."""
        return str(self.path)

    def close(self) -> None:
        """Close the file."""
        for dataset in self.datasets:
            dataset.close()


@contextmanager
def quiet() -> Iterator[None]:
    """Keep reader libraries from warning about what we check ourselves."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        yield


def _refuse(path: Path, what: str, fix: str = "") -> ForecastError:
    return ForecastError(str(Problem(file=str(path), what=what, fix=fix)))


def detect_format(path: Path) -> str:
    """Format from the first bytes: "netcdf3", "netcdf4", "grib" or "zarr".

    Raises
    ------
    ForecastError
        Missing, a folder that is no Zarr store, not readable, empty, or unknown.
    """
    try:
        there, folder = path.exists(), path.is_dir()
    except OSError as err:  # a name too long, a folder that may not be entered
        raise _refuse(path, f"cannot be read ({err.strerror})") from err
    if not there:
        raise _refuse(path, "does not exist", "Check the name and the folder.")
    if reason := why_not_plain(path):
        raise _refuse(path, reason, "Give the name of a file.")
    if folder:
        markers = (".zgroup", ".zmetadata", "zarr.json", ".zattrs")
        if any((path / marker).exists() for marker in markers):
            return "zarr"
        raise _refuse(path, "is a folder, not a forecast file", "Name the files inside it.")
    try:
        with path.open("rb") as handle:
            head = handle.read(16)
    except PermissionError as err:
        raise _refuse(
            path, "may not be read by you", "Ask for read permission, or copy it."
        ) from err
    except OSError as err:
        raise _refuse(path, f"cannot be read ({err.strerror})") from err
    if not head:
        raise _refuse(path, "is empty (0 bytes)", "Fetch it again.")
    if head[:4] in _NETCDF3:
        return "netcdf3"
    if head[:8] == _HDF5:
        return "netcdf4"
    if head[:4] == b"GRIB":
        return "grib"
    if head[:2] in (b"\x1f\x8b", b"BZ") or head[:4] == b"PK\x03\x04":
        raise _refuse(path, "is compressed (gzip, bzip2 or zip)", "Unpack it first.")
    if head.lstrip()[:1] in (b"<", b"{"):
        raise _refuse(
            path,
            "is text (a web page or JSON), not a forecast",
            "The download probably failed; open it in an editor to see why.",
        )
    raise _refuse(
        path,
        "is not NetCDF, GRIB or Zarr (its first bytes are unknown)",
        "Give a NetCDF, GRIB or Zarr forecast.",
    )


def harmless_together(paths: Sequence[Path]) -> bool:
    """Whether the NetCDF-4 files among these were all found safe to open, in one trial."""
    try:
        risky = [path for path in paths if detect_format(path) == "netcdf4"]
    except ForecastError:
        return False
    return len(risky) > 1 and all_harmless(risky)


def open_file(
    path: str | os.PathLike[str],
    *,
    chunk_cache_bytes: int = CHUNK_CACHE_BYTES,
    tried: bool = False,
    many: bool = False,
) -> OpenFile:
    """Open one forecast file or Zarr store without reading its fields.

    ``chunk_cache_bytes`` is what the NetCDF library keeps of each variable; ``tried`` says
    that ``harmless_together`` has found the file safe to open; ``many`` that too many files
    are opened to keep a handle of each.

    Raises
    ------
    ForecastError
        With the reason in words.
    """
    path = Path(path)
    form = detect_format(path)
    netcdf = partial(_open_netcdf, chunk_cache_bytes=chunk_cache_bytes, tried=tried, many=many)
    opener = {"grib": _open_grib, "zarr": _open_zarr}.get(form, netcdf)
    try:
        if form == "netcdf3":
            check_netcdf3(path)
        elif form == "grib":
            check_grib(path)
    except LayoutError as err:
        raise _refuse(path, f"is cut short or damaged: {err}", "Fetch it again.") from err
    with quiet():
        return opener(path, form)


def _without_indexes(xr: Any) -> dict[str, Any]:
    """Axes are read here by their values; building the library's indexes loads dask."""
    known = "create_default_indexes" in inspect.signature(xr.open_dataset).parameters
    return {"create_default_indexes": False} if known else {}


def _open_netcdf(
    path: Path, form: str, chunk_cache_bytes: int, tried: bool, many: bool
) -> OpenFile:
    try:
        str(path).encode("utf-8")
    except UnicodeEncodeError:
        raise _refuse(
            path, "has a name that is not text, which the NetCDF library cannot open", "Rename it."
        ) from None
    try:
        reason = reason_not_to_open(path) if form == "netcdf4" and not tried else ""
    except LeadsOutside as err:
        raise _refuse(
            path,
            f"does not hold all its data itself: {err}",
            "Other files are not followed. Ask for it whole, as one file.",
        ) from err
    if reason:
        raise _refuse(path, f"is damaged: {reason}", "Fetch it again.")
    import netCDF4

    # The library keeps 64 MB a variable by default.
    netCDF4.set_chunk_cache(chunk_cache_bytes)
    if not many and (plain := open_plain(path)) is not None:
        return OpenFile(path, form, [plain])
    import xarray as xr

    try:
        dataset = xr.open_dataset(
            path, engine="netcdf4", decode_times=False, decode_timedelta=False,
            decode_coords=False, cache=False, **_without_indexes(xr),
        )  # fmt: skip
    except Exception as err:  # every library fault becomes one sentence
        raise _refuse(
            path,
            f"cannot be opened as NetCDF ({short_reason(err)})",
            "It is probably cut short or damaged; fetch it again.",
        ) from err
    return OpenFile(path, form, [dataset])


def _open_zarr(path: Path, form: str) -> OpenFile:
    import xarray as xr

    try:
        reason = why_store_not_plain(path)
    except OSError as err:
        raise _refuse(path, f"cannot be read ({err.strerror})") from err
    if reason:
        raise _refuse(path, reason, "A store is a folder of plain files; copy it whole.")
    try:
        dataset = xr.open_dataset(
            path, engine="zarr", decode_times=False, decode_timedelta=False,
            decode_coords=False, cache=False, chunks=None,
        )  # fmt: skip
    except (ImportError, ModuleNotFoundError, ValueError) as err:
        if trouble := trouble_with("zarr", "season", 3):
            raise _refuse(path, f"is a Zarr store, and {trouble[0]}", trouble[1]) from err
        raise _refuse(path, f"cannot be opened as Zarr ({short_reason(err)})") from err
    except Exception as err:
        raise _refuse(path, f"cannot be opened as Zarr ({short_reason(err)})") from err
    return OpenFile(path, form, [dataset])


def _open_grib(path: Path, form: str) -> OpenFile:
    # Not used here: the GRIB library and pyproj each bring a copy of PROJ, and when the
    # GRIB library's is loaded first, pyproj corrupts memory (eccodes 2.50, pyproj 3.7).
    import pyproj  # noqa: F401

    # Its reader raises RuntimeError when the library below it is missing.
    for package in ("eccodes", "cfgrib"):
        if trouble := trouble_with(package, "grib"):
            raise _refuse(path, f"is GRIB, and {trouble[0]}", trouble[1])
    import cfgrib

    try:
        # An empty indexpath keeps the index in memory: nothing is written beside
        # the data, which may lie in a read-only folder.
        datasets = cfgrib.open_datasets(
            str(path), decode_times=False, decode_timedelta=False, cache=False,
            backend_kwargs={"indexpath": "", "errors": "raise"},
        )  # fmt: skip
    except Exception as err:
        raise _refuse(
            path,
            f"cannot be opened as GRIB ({short_reason(err)})",
            "It may be damaged, or mix grids; give waves, wind and current singly.",
        ) from err
    if not datasets:
        raise _refuse(path, "holds no GRIB message that can be read", "Fetch it again.")
    return OpenFile(path, form, datasets)


def short_reason(err: BaseException) -> str:
    """First line of a library's error, cut short."""
    text = str(err).strip().splitlines()
    first = text[0] if text else type(err).__name__
    return first[:120]


def sha256_of(path: Path) -> tuple[str, str]:
    """SHA-256 of a file, and what of it was hashed.

    Up to 2 GB the whole file is hashed ("whole file"). Beyond, the first and the last
    megabyte and the size are ("ends and size"). A Zarr store is hashed by the names
    and sizes of its files and the content of its metadata ("metadata and sizes").
    """
    digest = hashlib.sha256()
    if path.is_dir():
        for item in sorted(p for p in path.rglob("*") if p.is_file()):
            label = f"{item.relative_to(path).as_posix()}:{item.stat().st_size}\n"
            digest.update(label.encode())
            if item.name in (".zarray", ".zattrs", ".zgroup", ".zmetadata", "zarr.json"):
                digest.update(item.read_bytes())
        return digest.hexdigest(), "metadata and sizes"
    size = path.stat().st_size
    with path.open("rb") as handle:
        if size <= HASH_WHOLE_BYTES:
            while chunk := handle.read(_MB):
                digest.update(chunk)
            return digest.hexdigest(), "whole file"
        digest.update(handle.read(_MB))
        handle.seek(size - _MB)
        digest.update(handle.read(_MB))
    digest.update(str(size).encode())
    return digest.hexdigest(), "ends and size"
