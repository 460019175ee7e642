"""The service over HTTP and the command line."""
