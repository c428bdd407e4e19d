"""Where the formulas come from, one file a lesson, in sympy: each ends in the very formula that helpers.formulas uses."""
