"""A digest of the code itself: kept results are good only for the code that made them."""

from __future__ import annotations

import hashlib
import os
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
