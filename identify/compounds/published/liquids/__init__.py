"""Refractive indices and densities of the liquids: published, audited, and estimated."""
