"""The fit engine: give it a snapshot and a build, get ranked options with reasons.

Pure: it knows neither SQL nor HTTP, and the same snapshot and build give the same answer.
"""
