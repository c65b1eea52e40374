"""Which liquids to put into the bottles, and how good the instruments must be."""
