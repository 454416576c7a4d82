"""The burnout: the kiln programme and its clock."""
