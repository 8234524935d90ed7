"""Constants of the weather modules, each with unit and source."""

#: Magnus formula over water: saturation pressure at 0 degC [hPa], slope [-], offset
#: [degC]. WMO-No. 8 (2008) p. 1.4-29 after Sonntag 1990; -45 to 60 degC.
WATER = (6.112, 17.62, 243.12)
WATER_RANGE = (-45.0, 60.0)
#: The same over ice; WMO-No. 8, -65 to 0 degC.
ICE = (6.112, 22.46, 272.62)
ICE_RANGE = (-65.0, 0.0)
#: 0 degC [K], exact.
ZERO_CELSIUS = 273.15
#: Stefan-Boltzmann constant [W/(m2 K4)], CODATA 2018.
STEFAN_BOLTZMANN = 5.670374419e-8
