"""Papers: each a pure function of a packet of facts collected once."""
