"""What the wood is safe to: hardening, season, hardiness; what cold does to it; will it ripen."""
