"""From the layers of a cover, each as far up as it reaches today, to the numbers of its side and its top."""
