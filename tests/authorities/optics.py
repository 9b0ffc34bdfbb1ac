"""Published figures for what a lens takes in."""

from __future__ import annotations

# Width and height in degrees of a 36 x 24 mm frame by focal length in mm: 2 atan(side / 2f), the
# angles that makers print for such lenses.
FIELD_OF_VIEW_DEG = {28.0: (65.5, 46.4), 400.0: (5.15, 3.44)}

# Width of the sun's image: its mean diameter is 31' 59.3" (twice 959.63", Astronomical Almanac),
# so the image is as wide as the focal length divided by this.
FOCAL_LENGTHS_A_SUN = 107.46
