"""Pictures of the records: drawn once, for the page and for the paper alike."""
