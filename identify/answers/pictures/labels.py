"""Where the numbers beside points go, so that none covers another."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

_DISTANCE = 9.0  # of a number from its point
_HALF_WIDTH, _HALF_HEIGHT = 6.0, 5.0  # of a number, room around it included
# Right and above first, then around; farther out where all of these are taken.
_AROUND = ((1, 1), (-1, 1), (1, -1), (-1, -1), (0, 1.2), (0, -1.2), (1.2, 0), (-1.2, 0))
_RINGS = (0.75, 1.5, 2.25, 3.0)


class Spot(NamedTuple):
    """A place in a picture [points]."""

    x: float
    y: float


def placed(points: Sequence[Spot], others: Sequence[Spot] = ()) -> list[Spot]:
    """Return the offset of each point's number from its point.

    Parameters
    ----------
    points : sequence of Spot
    others : sequence of Spot
        What no number may cover either.

    Returns
    -------
    list of Spot
        In the order of the points, of which the first choose first.

    Examples
    --------
    >>> first, second = placed([Spot(0.0, 0.0), Spot(0.0, 0.0)])
    >>> first != second
    True
    """
    offsets: list[Spot] = []
    taken: list[Spot] = []
    for point in points:
        choices = [
            Spot(_DISTANCE * ring * across, _DISTANCE * ring * upward)
            for ring in _RINGS
            for across, upward in _AROUND
        ]
        free = (
            offset
            for offset in choices
            if not _covers(_moved(point, offset), taken, 2.0)
            and not _covers(_moved(point, offset), (*points, *others), 1.0)
        )
        offset = next(free, choices[0])
        offsets.append(offset)
        taken.append(_moved(point, offset))
    return offsets


def _moved(point: Spot, offset: Spot) -> Spot:
    return Spot(point.x + offset.x, point.y + offset.y)


def _covers(number: Spot, others: Sequence[Spot], room: float) -> bool:
    return any(
        abs(number.x - other.x) < room * _HALF_WIDTH
        and abs(number.y - other.y) < room * _HALF_HEIGHT
        for other in others
    )
