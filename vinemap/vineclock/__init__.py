"""From hours of weather to pressure, growth stage, fruit window and cover. Pure."""
