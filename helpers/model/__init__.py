"""What is built from the formulas: the site, the air of a tower, the loop in time, other plants than a stair, somebody's strategy.

The way of one figure, `set_point = "40 Pa"` under [control] in a site file:

    site/field_types.py   `Quantity` reads the text by helpers/units.py: 40.0; `file_key` ties the key set_point to the field set_point_pa
    site/schema.py        there it stands, `site.control.set_point_pa`; site/checks.py holds it against the transmitters' ranges
    air/tower.py          `Tower.hold` has air/operating_point.py look for the fan speed at which the combined reading meets it: air at rest
    loop/run.py           `settings_of` hands it to loop/controller.py, which counts the error from it sample by sample: the loop in time

From there the layers above take it: helpers/studies/readings/rules.py compares rules at it, `pressure_profile` of
helpers/record/plot_builders.py declares the plot of it, still in SI, and helpers/plots writes it out in the reader's units
and draws it, the set point dotted.
"""
