"""What leaves and enters in open forms: trace events, spreadsheets, the whole archive."""
