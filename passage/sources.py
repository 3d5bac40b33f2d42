"""A digest of the code itself: kept results are good only for the code that made them."""

from __future__ import annotations

import hashlib
import os
import re
from functools import cache


@cache
def physics_digest() -> str:
    """Digest of the source text of ``passage/physics`` and the units it uses.

    By content and not by date, so that a copy, an upgrade or a changed clock cannot make
    old results look new. Some milliseconds, once a process.
    """
    top = os.path.dirname(__file__)  # noqa: PTH120 - pathlib costs more than the hashing
    digest = hashlib.blake2b(digest_size=16)
    files = [os.path.join(top, "units.py")]  # noqa: PTH118
    for folder, inner, names in os.walk(os.path.join(top, "physics")):  # noqa: PTH118
        inner.sort()
        files += [os.path.join(folder, n) for n in sorted(names) if n.endswith(".py")]  # noqa: PTH118
    for file in files:
        try:
            with open(file, "rb") as handle:  # noqa: PTH123
                text = handle.read()
        except OSError:  # the package lies in an archive; then its version has to do
            continue
        digest.update(f"{os.path.relpath(file, top)} {len(text)}\n".encode())
        digest.update(text)
    return digest.hexdigest()


#: An import at the beginning of a line, in a function too: module, and names from it.
_IMPORT = re.compile(
    r"^[ \t]*(?:from|import)[ \t]+([\w.]+)(?:[ \t]+import[ \t]+(\([^)]*\)|[\w, \t]+))?", re.M
)


@cache
def digest_with_imports(file: str, package: str) -> str:
    """Digest of a module's text and that of all modules of its package it uses.

    Parameters
    ----------
    file : str
        The module's file.
    package : str
        Folder of the top package; imports from elsewhere are left out.
    """
    name = os.path.basename(package)  # noqa: PTH119
    seen: dict[str, bytes] = {}
    waiting = [file]
    while waiting:
        path = waiting.pop()
        if path in seen:
            continue
        try:
            with open(path, "rb") as handle:  # noqa: PTH123
                seen[path] = handle.read()
        except OSError:
            continue
        for module, names in _IMPORT.findall(seen[path].decode("utf-8", "replace")):
            if module.split(".")[0] != name:
                continue
            parts = module.split(".")[1:]
            for tail in ([], *([one] for one in re.findall(r"\w+", names))):
                stem = os.path.join(package, *parts, *tail)  # noqa: PTH118
                waiting += [f"{stem}.py", os.path.join(stem, "__init__.py")]  # noqa: PTH118
    digest = hashlib.blake2b(digest_size=16)
    for path in sorted(seen):
        digest.update(f"{os.path.relpath(path, package)} {len(seen[path])}\n".encode())
        digest.update(seen[path])
    return digest.hexdigest()
