"""The verbs of limits, holds, review and release."""
