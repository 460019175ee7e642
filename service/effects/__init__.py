"""What a new release does to everyone's builds: their answers compared, and the edits that did it.

Pure: give it two snapshots and builds. It knows neither SQL nor HTTP, and runs on any `concurrent.futures` executor.
"""
