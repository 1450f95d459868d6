"""The sentences about the year's jobs, supplies, ripening and the season."""
