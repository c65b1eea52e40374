"""The liquids that a plan may choose from: those that meet all conditions."""
