"""The weather a round stands on: services asked, what they told kept, past winters and files of the past."""
