"""From the open field to one tree: sun, sky, soil, microclimate."""
