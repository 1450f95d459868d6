"""How wood hardens, softens and wakes from one day to the next: the rates, and what drives them."""
