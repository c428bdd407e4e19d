"""The fault bench: a loop with one hidden fault, checks that cost minutes, a judgement with a replay."""

from helpers.lessons.fault_bench.case import Case, case_of, draw_case
from helpers.lessons.fault_bench.checks import CHECKS, Check, Seen
from helpers.lessons.fault_bench.faults import CURES, FAULTS, LEVELS, Cure, Fault, Level
from helpers.lessons.fault_bench.judge import Judgement, Step, best_path, judge
from helpers.lessons.fault_bench.visit import Visit

__all__ = [
    "CHECKS", "CURES", "FAULTS", "LEVELS", "Case", "Check", "Cure", "Fault", "Judgement", "Level", "Seen", "Step", "Visit", "best_path",
    "case_of", "draw_case", "judge",
]  # fmt: skip
