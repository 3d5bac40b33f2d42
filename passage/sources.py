"""Digest of the source code: cached results are valid only for the code that computed them."""

from __future__ import annotations

import hashlib
import os
import re
from functools import cache


@cache
def physics_digest() -> str:
    """Digest of the source text of ``passage/physics`` and the units it uses.

    The digest depends on content and not on dates, so that a copy, an upgrade or a changed
    clock cannot make old results look new. It takes some milliseconds, once per process.
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
        except OSError:  # the package is in an archive; its version alone is the key then
            continue
        digest.update(f"{os.path.relpath(file, top)} {len(text)}\n".encode())
        digest.update(text)
    return digest.hexdigest()


#: An import statement, indented or not: module, and the names imported from it.
_IMPORT = re.compile(
    r"^[ \t]*(?:from|import)[ \t]+([\w.]+)(?:[ \t]+import[ \t]+(\([^)]*\)|[\w, \t]+))?", re.M
)


@cache
def digest_with_imports(file: str, package: str) -> str:
    """Digest of a module's text and of all modules it imports from its package.

    Parameters
    ----------
    file : str
        File of the module.
    package : str
        Folder of the top package; imports from elsewhere are ignored.
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
