"""Known slips of the notebook and the bench, weighed beside the readings as they stand.

Each slip is a small function in the file of what it spoils (`record`, `technique`, `card`,
`bottles`): from the readings and the leading candidates to hypotheses, each with its chance before
anything is compared, the density of the readings had it happened, and what to say if it is named.
`evidence` weighs them all together.
"""

from identify.matching.slips.mechanism.evidence import Search, search
from identify.matching.slips.mechanism.hypothesis import Slip

__all__ = ["Search", "Slip", "search"]
