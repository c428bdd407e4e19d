"""The air of a second pressurised shaft beside the stair: its openings in the network, and its own loop at rest."""
