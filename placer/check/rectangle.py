"""Rectangles at any angle, in micrometres, and whether they overlap."""

from __future__ import annotations

from dataclasses import dataclass

Point = tuple[float, float]

# Sizes are whole (or half) micrometres; a thousandth of one is far below any real overlap and far above rounding error.
HAIR_UM = 1e-3


@dataclass(frozen=True)
class Rectangle:
    """A rectangle: centre, unit vector along its length, half its length and half its width (um)."""

    centre: Point
    along: Point
    half_length: float
    half_width: float

    @staticmethod
    def upright(x0: float, y0: float, x1: float, y1: float) -> Rectangle:
        """A rectangle with sides on the grid's axes, from its corners."""
        return Rectangle(((x0 + x1) / 2, (y0 + y1) / 2), (1.0, 0.0), (x1 - x0) / 2, (y1 - y0) / 2)

    @property
    def across(self) -> Point:
        """Unit vector along the width."""
        return -self.along[1], self.along[0]

    @property
    def has_area(self) -> bool:
        """False for a body so thin that nothing can be under it."""
        return self.half_length > HAIR_UM and self.half_width > HAIR_UM

    def reach(self, axis: Point) -> float:
        """Half the rectangle's extent along a unit vector."""
        return self.half_length * abs(_dot(self.along, axis)) + self.half_width * abs(_dot(self.across, axis))

    def overlaps(self, other: Rectangle) -> bool:
        """True when both share an area greater than zero: no side of either separates them (separating axes)."""
        apart = (other.centre[0] - self.centre[0], other.centre[1] - self.centre[1])
        # Most pairs lie far apart: no rectangle reaches further than its two half sizes together.
        far = self.half_length + self.half_width + other.half_length + other.half_width
        if abs(apart[0]) > far or abs(apart[1]) > far or not (self.has_area and other.has_area):
            return False
        axes = (self.along, self.across, other.along, other.across)
        return all(abs(_dot(apart, axis)) < self.reach(axis) + other.reach(axis) - HAIR_UM for axis in axes)

    def covers(self, point: Point) -> bool:
        """True when the point lies strictly inside."""
        away = (point[0] - self.centre[0], point[1] - self.centre[1])
        return (
            abs(_dot(away, self.along)) < self.half_length - HAIR_UM
            and abs(_dot(away, self.across)) < self.half_width - HAIR_UM
        )

    def within(self, x0: float, y0: float, x1: float, y1: float) -> bool:
        """True when no part of the rectangle lies beyond these limits."""
        reach_x, reach_y = self.reach((1.0, 0.0)), self.reach((0.0, 1.0))
        cx, cy = self.centre
        return (
            cx - reach_x >= x0 - HAIR_UM
            and cx + reach_x <= x1 + HAIR_UM
            and cy - reach_y >= y0 - HAIR_UM
            and cy + reach_y <= y1 + HAIR_UM
        )


def _dot(a: Point, b: Point) -> float:
    return a[0] * b[0] + a[1] * b[1]
