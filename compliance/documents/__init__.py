"""Papers: each a pure function of a packet of facts collected once."""

from reportlab import rl_config

# Streams as bytes: written as letters they are a quarter larger and slower to make.
rl_config.useA85 = 0
