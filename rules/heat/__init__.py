"""The temperature inside a cover in each of its states, hour by hour, and why it is so."""
