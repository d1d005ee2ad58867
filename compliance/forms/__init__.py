"""Forms of deciding, reviewing, releasing and choosing rules."""
