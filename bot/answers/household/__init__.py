"""Who is let in, who is put out, and what is deleted with them."""
