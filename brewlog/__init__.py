"""Production records of a small brewery of live-culture drinks."""
