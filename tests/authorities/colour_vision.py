"""How a colour-blind reader sees colours, and how different two greys must be.

DEUTERANOPIA, PROTANOPIA: linear RGB to linear RGB, severity 1.0. Source: G. M. Machado, M. M.
Oliveira and L. A. F. Fernandes, "A Physiologically-based Model for Simulation of Color Vision
Deficiency", IEEE Transactions on Visualization and Computer Graphics 15 (2009), 1291-1298, and
the table of matrices that goes with it (inf.ufrgs.br/~oliveira/pubs_files/CVD_Simulation), as
copied in colorspacious, colorspacious/cvd.py.

TEXT_CONTRAST, MARK_CONTRAST: least ratio of luminances, (L1 + 0.05) / (L2 + 0.05), of text and of
graphics against what is around them. Source: W3C, Web Content Accessibility Guidelines 2.1,
success criteria 1.4.3 and 1.4.11.
"""

from __future__ import annotations

import numpy as np
from matplotlib.colors import to_rgb

DEUTERANOPIA = (
    (0.367322, 0.860646, -0.227968),
    (0.280085, 0.672501, 0.047413),
    (-0.011820, 0.042940, 0.968881),
)
PROTANOPIA = (
    (0.152286, 1.052583, -0.204868),
    (0.114503, 0.786281, 0.099216),
    (-0.003882, -0.048116, 1.051998),
)
TEXT_CONTRAST = 4.5
MARK_CONTRAST = 3.0


def lightness(colour: str) -> float:
    """How light a colour looks, 0 (black) to 100 (white): L* of CIE 1976 from sRGB.

    Source: IEC 61966-2-1 for sRGB, CIE 15 for L*.

    >>> round(lightness("#777777"))
    50
    """
    channel = np.array(to_rgb(colour))
    linear = np.where(channel <= 0.04045, channel / 12.92, ((channel + 0.055) / 1.055) ** 2.4)
    luminance = float(linear @ [0.2126, 0.7152, 0.0722])
    cube_root = luminance ** (1 / 3) if luminance > (6 / 29) ** 3 else None
    return 116.0 * cube_root - 16.0 if cube_root is not None else luminance * (29 / 3) ** 3
