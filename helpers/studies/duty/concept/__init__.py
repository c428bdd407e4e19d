"""How a stair could be pressurised at all: the concepts of one building beside each other, each as a site of its own.

Each concept is the given site, changed through the site model: another set point, a fan at one speed with a relief damper, other points at
which the air enters, a lobby on every storey, a heated supply. All are judged by the same criteria in the same cases, at both temperatures
of the stair's air, and priced by what they take in plant.
"""
