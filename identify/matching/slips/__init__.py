"""Known slips of the notebook and the bench, weighed beside the readings as they stand.

`catalog` holds the slips, one small function each, and lists them; `mechanism` weighs whatever
slips it is given; `searching` brings the two together.
"""

from identify.matching.slips.mechanism.hypothesis import Slip
from identify.matching.slips.searching import Search, search

__all__ = ["Search", "Slip", "search"]
