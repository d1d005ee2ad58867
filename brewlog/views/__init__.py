"""What a browser shows: small functions by noun on a kit of forms, lists and details."""
