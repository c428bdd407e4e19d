"""Run by a test in a Python of its own: what the page in the browser does at its start, on this machine's Python, in the page's files.

What a browser cannot do is taken away, and site files are read by the page's own reader. Prints what that says of every spoilt file.
"""

import importlib.util
import json
import pkgutil
import re
import socket
import subprocess
import sys
import threading
from pathlib import Path

HERE = Path(__file__).resolve().parent
OTHERS = ("IPython", "ipywidgets", "matplotlib.figure", "openpyxl", "platformdirs", "sympy")
SPOILT = ("left out", "renamed", '"no figure"', "-1000000", "true", "[1, 2]", "{ a = 1 }", "3.5")


def cannot(*_, **__):
    """Stands for what a page in the browser refuses."""
    raise AssertionError("no thread, process or connection can be started in a page")


def read_sites_as_the_page():
    """Let the page's reader stand for pydantic."""
    spec = importlib.util.spec_from_file_location("pydantic", HERE / "site_models.py")
    sys.modules["pydantic"] = sys.modules["pydantic_core"] = module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)


def spoilt(text):
    """The text as it is, then with one line at a time spoilt in one of the ways, every third line."""
    lines = text.splitlines()
    yield "as it is", text
    for number, line in list(enumerate(lines))[::3]:
        key, is_set, _ = line.partition("=")
        if is_set and re.match(r"\w+ $", key):
            way = SPOILT[number // 3 % len(SPOILT)]
            changed = {"left out": "", "renamed": f"x{line}"}.get(way, f"{key}= {way}")
            yield f"line {number + 1} {way}", "\n".join([*lines[:number], changed, *lines[number + 1 :]])


def judged(data):
    """What the reader says of every spoilt file of sites, strategies and days in a data folder: the site written anew, or the refusal."""
    from helpers.model.plants.kinds import SITE_KINDS
    from helpers.model.site.errors import SiteFileError
    from helpers.model.site.file import read_site_text
    from helpers.model.strategy import Strategy
    from helpers.model.test_day import TestDay

    said = {}
    for path in sorted([*data.glob("sites/*.toml"), *data.glob("strategies/*.toml"), *data.glob("days/*.toml")]):
        for what, text in spoilt(path.read_text(encoding="utf-8")):
            try:
                read = read_site_text(text, path.name, (*SITE_KINDS, Strategy, TestDay))
                said[f"{path.name} {what}"] = repr((read, read.model_dump(), [name for name, _ in read]))
            except SiteFileError as refusal:
                said[f"{path.name} {what}"] = f"refused: {refusal}"
    return said


def main():
    """Import every module of the page, check the installation as the start page does, judge the spoilt files."""
    for name in OTHERS:  # before this machine is called a browser
        importlib.import_module(name)
    read_sites_as_the_page()
    threading.Thread.start = subprocess.Popen.__init__ = socket.socket.__init__ = cannot
    sys.platform = "emscripten"
    page = Path.cwd()
    sys.path.insert(0, str(page))
    import helpers

    assert Path(helpers.__file__).parents[1] == page, helpers.__file__
    for module in pkgutil.walk_packages(helpers.__path__, "helpers."):
        importlib.import_module(module.name)
    from helpers.model.air import conditions as weather
    from helpers.pages import design as front_picture
    from helpers.pages import start as self_check
    from helpers.studies.placement import table as placement_table

    checked = self_check.self_check()
    assert checked.good, str(checked)
    assert "jupyterlab" not in str(checked)
    for path in (front_picture.FRONT_PICTURE, placement_table.FILE, weather.WEATHER_FOLDER):
        assert path.exists(), path
    json.dump(judged(page / "data"), sys.stdout)


if __name__ == "__main__":
    main()
