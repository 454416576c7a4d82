"""The flask in the kiln: a wet mould in its steel, in rings of radius and height, through the heat of a burnout. SI."""
