"""Modules that cost a second to read and that few tests ask for: every worker collects every file of tests."""

import sys
from importlib.util import LazyLoader, find_spec, module_from_spec


def imported_late(name):
    """The module of this name, read when something of it is first asked for. Raises ModuleNotFoundError where it is not installed."""
    if name in sys.modules:
        return sys.modules[name]
    spec = find_spec(name)
    if spec is None:
        raise ModuleNotFoundError(f"no module named {name!r}", name=name)
    spec.loader = LazyLoader(spec.loader)
    module = sys.modules[name] = module_from_spec(spec)
    spec.loader.exec_module(module)
    return module
