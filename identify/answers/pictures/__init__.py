"""Answers as pictures, for a report. Nothing slow is loaded until a picture is drawn."""

MOST_COMPOUNDS = 8  # that can be read at a glance in one picture
PLOT_KINDS = ("png", "svg", "pdf")
