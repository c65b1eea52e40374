"""Which liquids are fit for a class, and which of them are furthest apart."""
