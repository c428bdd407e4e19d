"""The pressure-loop workbook's helpers. Imports go one way, from each layer only to those below:

serving -> classroom -> pages -> fault_bench -> lessons -> widgets -> record -> plots -> teaching -> studies
-> model -> units -> formulas -> require
"""

__version__ = "0.1.0"
