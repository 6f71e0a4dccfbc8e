"""From stops to every vine: inverse distance, variogram, kriging, the field and its scores. Pure."""
