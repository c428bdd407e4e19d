"""The loop in time: air that answers at once, transmitters and their faults, the controller, the drive, the low-demand stop."""
