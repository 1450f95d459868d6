"""What words are likely about, learned from sentences that people wrote for each matter: `asked.tsv` and `told.tsv`.

A new way to ask is a new row there; `python .ci/fit_replies.py` then weighs the words anew.
"""
