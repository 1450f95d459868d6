"""The weather services: one file each that asks it and reads its answers."""
