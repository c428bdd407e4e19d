"""Other plants than a stair: a building held by a relief fan, a supply duct, a garage held by its gas. They run through the same fan
curve, network, transmitters, combining, controller and drive; a new plant is a site model, conditions and something that reads.
"""
