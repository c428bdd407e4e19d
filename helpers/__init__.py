"""The pressure-loop workbook's helpers: formulas -> model -> studies -> lessons -> panels, each layer importing only from those below."""

__version__ = "0.1.0"
