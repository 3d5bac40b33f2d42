"""The zip container of route exchange files (one route and its attachments)."""

from __future__ import annotations

import io
import zipfile
import zlib

from passage.errors import Problem, RouteError

MAX_MEMBERS = 500
_ENDING = ".rtz"


def is_zip(data: bytes) -> bool:
    """Whether a file begins as a zip archive does."""
    return data[:4] in (b"PK\x03\x04", b"PK\x05\x06", b"PK\x07\x08")


def open_container(data: bytes, *, file: str, limit_bytes: int) -> tuple[bytes, str]:
    """The one route in a container, and its name there. Nothing is unpacked to disk.

    Raises
    ------
    RouteError
        Not a sound archive, locked by a password, no route or several, names that
        point outside the archive, or a route larger than ``limit_bytes``.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            return _read(archive, file, limit_bytes)
    except (
        zipfile.BadZipFile,
        zlib.error,
        EOFError,
        OSError,
        RuntimeError,
        NotImplementedError,
        ValueError,
    ) as err:
        raise _refused(
            file, "is a zip archive that cannot be opened", "Fetch or export it again."
        ) from err


def _read(archive: zipfile.ZipFile, file: str, limit_bytes: int) -> tuple[bytes, str]:
    members = archive.infolist()
    if len(members) > MAX_MEMBERS:
        raise _refused(
            file,
            f"holds {len(members)} files, more than {MAX_MEMBERS}",
            "A route container has one route and its attachments.",
        )
    for member in members:
        parts = member.filename.replace("\\", "/").split("/")
        if ".." in parts or parts[0] == "" or ":" in parts[0]:
            raise _refused(
                file,
                "holds a name that points outside the archive",
                "Do not use this file; ask where it came from.",
            )
    routes = [m for m in members if m.filename.lower().endswith(_ENDING)]
    if len(routes) != 1:
        raise _refused(
            file,
            f"holds {len(routes)} route files ({_ENDING})",
            f"A container has exactly one {_ENDING}.",
        )
    route = routes[0]
    if route.flag_bits & 0x1:
        raise _refused(file, "is locked by a password", "Unlock it first.")
    # Reading is bounded whatever size the archive claims.
    with archive.open(route) as handle:
        content = handle.read(limit_bytes + 1)
    if len(content) > limit_bytes:
        raise _refused(
            file,
            f"holds a route larger than {limit_bytes // 1_000_000} MB",
            "No route is; do not use this file.",
        )
    return content, route.filename


def _refused(file: str, what: str, fix: str) -> RouteError:
    return RouteError(str(Problem(file=file, what=what, fix=fix)))
