"""What the production records mean under the rules that bind a brewery."""
