"""Flower buds in spring: their stages, and what each can take."""
