"""Published rules for the time a walk takes, and what follows from them."""

from __future__ import annotations

# (distance on the map in metres, rise in metres, hours).

# Tobler (1993), Three presentations on geographical analysis and modeling, NCGIA technical report
# 93-1: 6 exp(-3.5 |slope + 0.05|) km/h, worked by hand; 0.6 of the speed off paths.
TOBLER = [(5000.0, 0.0, 0.993), (5000.0, 500.0, 1.409), (5000.0, -500.0, 0.993)]
TOBLER_FASTEST_KM_H = 6.0
TOBLER_OFF_PATH = 0.6

# Naismith (1892), as in any handbook of today: an hour for 5 km and half an hour for 300 m up.
NAISMITH = [(5000.0, 300.0, 1.5), (5000.0, 0.0, 1.0), (5000.0, -300.0, 1.0)]

# Langmuir (1984), Mountaincraft and Leadership: ten minutes less for 300 m of descent on 5 to 12
# degrees, ten minutes more on steeper ground. Here 300 m down in 6 km (2.9 degrees), in 2 km (8.5
# degrees) and in 1 km (16.7 degrees), worked by hand.
LANGMUIR = [
    (6000.0, -300.0, 1.2),
    (2000.0, -300.0, 0.4 - 10.0 / 60.0),
    (1000.0, -300.0, 0.2 + 10.0 / 60.0),
    (5000.0, 300.0, 1.5),
]
# Just under 12 degrees 1 m on the map takes 0.72 s less 2 s for every metre of fall, tan 12 degrees
# = 0.2125566 of them: 0.2948869 s, worked by hand.
LANGMUIR_FASTEST_M_S = 1.0 / 0.2948869

# DIN 33466: 4 km/h along, 300 m/h up, 500 m/h down, the larger and half of the smaller. The Alpine
# clubs' handbook of paths works an example: 900 m up in 8 km take 4 h (mountainista.de,
# "Formel zur Berechnung der Gehzeit", after AV-Wegekonzept, November 2009).
DIN_33466 = [(8000.0, 900.0, 4.0), (8000.0, -1000.0, 3.0), (8000.0, 300.0, 2.5)]
