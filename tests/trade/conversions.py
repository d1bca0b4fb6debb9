"""Units of the published tables in SI, from their definitions (1 lb = 0.453 592 37 kg, 1 in = 25.4 mm)."""

INCH = 25.4  # in mm
SQUARE_INCH = INCH**2  # in mm²
LBF = 0.45359237 * 9.80665  # in N
LBF_FT = LBF * 0.3048  # in N·m
