"""What will happen: remaining life, the next run, the calendar and the plants, from a saved calibration alone."""
