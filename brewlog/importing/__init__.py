"""Spreadsheets in: read, ordered, checked and recorded by the same verbs as the pages."""
