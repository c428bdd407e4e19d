"""Injection table: what every display must show when a signal is put on an input, and which pairs of signals tell one rule from another."""

from dataclasses import dataclass

__all__ = ["InjectionRow", "InjectionTable", "injection_table"]


@dataclass(frozen=True)
class InjectionRow:
    """One step: per cent of signal on each input, the signals, the reading of each transmitter, the combined reading, who is told apart."""

    percents: tuple
    signals: tuple
    readings_pa: tuple
    combined_pa: float
    if_instead_pa: dict
    purpose: str


@dataclass(frozen=True)
class InjectionTable:
    """Rows in the order of work, with the tolerance of each display."""

    names: tuple
    signal_units: tuple
    rule: str
    rows: tuple
    tolerance_pa: tuple
    combined_tolerance_pa: float


def injection_table(transmitters, rule, weights=None, calibrator_percent=0.1, input_percent=0.2):
    """Injection table of some transmitters under a rule. Returns `InjectionTable`."""
    raise NotImplementedError
