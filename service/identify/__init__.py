"""Which part is this: what the asker has, from what can be seen, read and measured. Knows no SQL and no HTTP.

A snapshot's constraint graph and an identification in, candidates with probabilities and the next best questions out.
"""
