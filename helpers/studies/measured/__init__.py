"""What measured data say of a plant: its trend logs, its test day, its years."""
