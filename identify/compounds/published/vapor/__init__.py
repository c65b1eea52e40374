"""The vapor of a compound: its pressure curve, second virial coefficients, dimers."""
