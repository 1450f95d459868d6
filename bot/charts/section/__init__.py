"""A cover cut open at its coldest hour: the parts with their temperatures, and the sketch they are shown on."""
