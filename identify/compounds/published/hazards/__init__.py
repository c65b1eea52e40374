"""What published lists say of the hazards of a compound."""
