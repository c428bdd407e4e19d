"""What the doors of a stair bear and get: the pressure window, forces, open doors, exits, a stair that cools, a year of weather."""
