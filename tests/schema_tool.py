"""Tools of ``docs/tools`` for tests, loaded from their files."""

import importlib.util
import sys
from pathlib import Path

DOCS = Path(__file__).parents[1] / "docs"


def tool(name):
    spec = importlib.util.spec_from_file_location(name, DOCS / "tools" / f"{name}.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


schemas = tool("make_schemas")
