"""Whole phrases of a reply: questions, wishes, jobs, the season."""
