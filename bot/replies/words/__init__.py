"""The words of a reply: letters, names, numbers, times, spelling."""
