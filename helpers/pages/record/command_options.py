"""What may be typed on the command line: the commands with their options, and a refusal in one line for anything else."""

import argparse

from helpers.formulas.combining import RULES
from helpers.units import SYSTEMS

REFUSED = 2  # the status of a refusal
PAPERS = ("A4", "Letter")
# Options of `sheets` for the weather of the day, by field of its `Day`; example of each.
DAY_EXAMPLES = {"outdoor_c": "12 °C", "stair_bottom_c": "18 °C", "stair_middle_c": "18 °C", "stair_top_c": "19 °C", "floor_c": "21 °C",
              "wind_speed_m_s": "2 m/s", "wind_from_deg": "270 deg"}  # fmt: skip
OPTIONS = {"wind_speed_m_s": "--wind", "wind_from_deg": "--wind-from"}
OPTIONS |= {name: f"--{name.removesuffix('_c').replace('_', '-')}" for name in DAY_EXAMPLES if name.endswith("_c")}


class _Parser(argparse.ArgumentParser):
    def error(self, message):
        self.exit(REFUSED, f"{message}; see {self.prog} --help\n")


def parser(works, status):
    """The parser of the command line. works: {command: what does it}; status: what all helps end with."""
    made = _Parser(prog="python -m helpers", description="The pressure-loop workbook without a browser.", epilog=status)
    commands = made.add_subparsers(required=True, metavar="COMMAND")
    for name, what, told in (
        ("record", "site", "write the design record (HTML and PDF), of a stair the sheets of the day too"),
        ("sheets", "site", "write the sheets of injected signals and of the doors (XLSX and HTML)"),
        ("review", "strategy", "write what is wrong with somebody's settings (HTML and PDF)"),
        ("testday", "site", "write a test day's procedure and sheets, or read filled ones: the day's file and its report"),
        ("fit", "site", "write what a test day proves (HTML and PDF) and the site file of the building as found"),
        ("years", "site", "write the tests of all years beside each other (HTML and PDF)"),
        ("papers", "site", "write the papers of a job in one folder (HTML, PDF, XLSX and Markdown)"),
        ("placement", "site", "rank the pairs of transmitters of a stair, or of a folder of them, and write them all (CSV)"),
        ("differences", "site", "write what differs between the settings schedule and a list of what was entered"),
        ("concepts", "site", "tell how a stair could be pressurised: each concept judged, ranked, with what it takes in plant"),
        ("trends", "log", "tell what a trend file says: columns, sampling, step test, settings, why it hunts"),
        ("check", "site", "tell every mistake of a site file, of a test day's file or of a file of answers, with its line"),
    ):
        command = commands.add_parser(name, help=told, description=f"{told[0].upper()}{told[1:]}.", epilog=status)
        command.add_argument("file", metavar=what.upper() if name == "trends" else f"{what.upper()}.toml")
        command.set_defaults(work=works[name])
        if name == "fit":
            command.add_argument("day", metavar="DAY.toml", help="the file of the test day")
        elif name == "years":
            command.add_argument("folders", metavar="FOLDER", nargs="+", help="with the files of test days; of several people, several")
        elif name in ("papers", "placement"):
            command.add_argument("others", metavar="SITE.toml", nargs="*", help="further sites, done side by side, or folders of them")
            command.add_argument("--cluster", metavar="tcp://HOST:8786", help="of a Dask scheduler you trust: its workers do the work")
        if name == "papers":
            command.add_argument("--resume", action="store_true", help="leave finished papers of the same file, write stopped ones anew")
            command.add_argument("--answers", metavar="FILE.toml", help="answers to the enquiry list of the one site")
        elif name == "differences":
            command.add_argument("list", metavar="LIST", nargs="?", help="TOML, CSV, XLSX or text; another site's file; none: a blank list")
        elif name == "trends":
            command.add_argument("--site", metavar="SITE.toml", help="of the loop: its span, full speed, set point, ramp and settings")
        if name not in ("concepts", "trends", "check", "fit", "years"):
            command.add_argument("--rule", choices=RULES, help="in place of the one the file states")
            command.add_argument("--set-point", metavar="TEXT", help='in place of the one the file states, with its unit: "45 Pa"')
        if name != "check":
            own = name == "papers"
            told = f"in which all is written{'; default: those of the site file' * own}"
            command.add_argument("--units", choices=SYSTEMS, default=None if own else SYSTEMS[0], help=told)
        if name not in ("check", "concepts", "trends"):
            command.add_argument("--paper", choices=PAPERS, default=PAPERS[0])
            command.add_argument("--out", metavar="FOLDER", default="records", help="made where it is not there; default: records")
            command.add_argument("--force", action="store_true", help="write over files that are there")
        if name == "testday":
            ways = command.add_mutually_exclusive_group()
            ways.add_argument("--filled", metavar="FILE.xlsx", action="append", help="a filled file; once more for each further one")
            ways.add_argument("--from", dest="day", metavar="DAY.toml", help="fill the sheets in from a test day's file, its weather too")
        if name in ("sheets", "testday"):
            day = command.add_argument_group("the weather found on the day, as on page 11; all temperatures (but half way up) or none")
            for field, example in DAY_EXAMPLES.items():
                day.add_argument(OPTIONS[field], dest=field, metavar="TEXT", help=f'with its unit: "{example}"')
    commands.add_parser("class", help="serve a class, see helpers.serving")
    return made
