"""What pictures and questions ask of an outlook: the week, the season so far, a cover cut open, nights gone by."""
