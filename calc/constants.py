"""Physical constants, each with unit and source."""

#: Standard acceleration of free fall [m/s2]. CGPM 1901, exact by convention.
GRAVITY = 9.80665
#: International yard [m], exact since 1959.
YARD = 0.9144
#: Chain of 22 yards [m], exact; not the US survey chain of 20.11684 m.
CHAIN = 22 * YARD
#: International mile of 1760 yards [m], exact.
MILE = 1760 * YARD
#: Mile per hour [m/s], exact.
MPH = MILE / 3600.0
#: Kilometre per hour [m/s], exact.
KMH = 1.0 / 3.6
