"""Published figures for ways over the ellipsoid of WGS 84."""

from __future__ import annotations

# From Wellington to Salamanca, (longitude, latitude) in degrees each: length in metres and azimuth
# at the start in degrees. Karney's example for GeographicLib
# (geographiclib.sourceforge.io/html/python, "Inverse"), to the digits that mrJean1/PyGeodesy tests
# it with.
WELLINGTON_SALAMANCA = (174.81, -41.32, -5.50, 40.96)
GEODESIC_M = 19_959_679.267
GEODESIC_AZIMUTH_DEG = 161.06766998616
