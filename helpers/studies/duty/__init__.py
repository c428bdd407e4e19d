"""Supply air and the fan: by hand, by the network, as stated, as needed, at full speed, with a relief damper."""
