"""How slips are weighed: hypotheses, the evidence for them, and readings rewritten."""
