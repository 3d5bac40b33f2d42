"""Packages that come with an extra: missing, too old, or installed but broken?"""

from __future__ import annotations

import importlib
import importlib.util


def trouble_with(package: str, extra: str, least: int | None = None) -> tuple[str, str] | None:
    """What keeps an optional package from being used, and what to do; None if nothing.

    ``extra`` is the group of the project it belongs to; ``least`` its lowest major version.
    """
    install = f"Install it with: pip install 'passage[{extra}]'."
    try:
        missing = importlib.util.find_spec(package) is None
    except (ImportError, ValueError):
        missing = True
    if missing:
        return f"the package {package} is not installed", install
    try:
        module = importlib.import_module(package)
    except Exception as err:  # whatever a broken package raises
        reason = (str(err).strip().splitlines() or [type(err).__name__])[0][:120]
        return (
            f"the package {package} is installed but cannot be loaded ({reason})",
            f"Repair it with: pip install --force-reinstall 'passage[{extra}]'.",
        )
    version = str(getattr(module, "__version__", ""))
    major = version.split(".")[0]
    if least is not None and major.isdigit() and int(major) < least:
        return (
            f"the package {package} is version {version}, and {least} or later is needed",
            f"Upgrade it with: pip install -U 'passage[{extra}]'.",
        )
    return None
