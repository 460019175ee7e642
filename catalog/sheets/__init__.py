"""Sheets: the catalog as tables that a spreadsheet program opens, read and written."""
