"""What can be measured of a liquid: reading, prediction and likelihood."""
