"""Where the air enters: how high a stair one supply point is good for, and how outlets on a riser share the fan's air."""
